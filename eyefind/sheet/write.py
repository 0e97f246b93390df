"""Writing of the sheets: pages to print as PDF, long pictures for a phone as PNG."""

from io import BytesIO
from pathlib import Path

from PIL import Image, ImageDraw

from eyefind.data import Photo, Record, Says
from eyefind.errors import UsageError
from eyefind.record import record_path, write_bytes
from eyefind.record.store import ENDING as RECORD_ENDING
from eyefind.rules import Rules
from eyefind.sheet.fonts import BOLD, picture_font
from eyefind.sheet.pages import Paper, make_after, make_sheet
from eyefind.sheet.phone import after_told, bench_told, with_words
from eyefind.sheet.picture import PAPER_WIDTH_PT, draw_picture, pictures_of
from eyefind.sheet.style import TEXT_PAIRS, WHITE
from eyefind.sheet.words import AFTER, SHEET, STAMP


def write_sheet(
    photo: Photo,
    record: Record,
    standing: dict[str, Says],
    folder: Path,
    rules: Rules,
    paper: Paper = "A4",
) -> list[Path]:
    """Write the annotated picture and the pages of one clump.

    Parameters
    ----------
    photo : Photo
        The photo itself.
    record : Record
        What is known of it, with a plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    folder : Path
        Where the files go; they are named as the photo's record is.
    rules : Rules
        The rules of the trade in use.
    paper : str
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    list of Path
        ``NAME.eyefind-sheet.pdf`` and ``.png``, then ``NAME.eyefind-after.pdf`` and
        ``.png``.

    Raises
    ------
    UsageError
        If the record has no plan.
    WriteError
        If a file cannot be written; what was there before is unchanged.
    """
    if record.plan is None:
        raise UsageError(
            f"There is no cut plan for {photo.file} yet.",
            "Make the plan first, then the sheet.",
        )
    plan = record.plan
    pictures = pictures_of(photo, record, standing)
    path = record_path(Path(photo.file), folder)
    shown = draw_picture(photo, record, standing)
    apart = Image.new("RGB", (shown.width, 1), WHITE)
    if pictures.apart is not None:
        apart = pictures.apart(PAPER_WIDTH_PT).image
    told = bench_told(record, plan, standing), after_told(record, plan, rules)
    phone = [
        with_words(stamped(picture) if not plan.reviewed else picture, lines)
        for picture, lines in zip((shown, apart), told, strict=True)
    ]
    name = path.name.removesuffix(RECORD_ENDING)
    written = {
        f"{name}{SHEET}.pdf": make_sheet(
            pictures, record, plan, standing, paper, path.name
        ),
        f"{name}{SHEET}.png": _png(phone[0]),
        f"{name}{AFTER}.pdf": make_after(pictures, record, plan, rules, paper),
        f"{name}{AFTER}.png": _png(phone[1]),
    }
    for file, data in written.items():
        write_bytes(folder / file, data)
    return [folder / file for file in written]


def stamped(picture: Image.Image) -> Image.Image:
    """Return `picture` below a band with the stamp, which hides nothing of it."""
    ink, paper = TEXT_PAIRS["stamp"]
    height = picture.width // 14
    image = Image.new("RGB", (picture.width, picture.height + height), paper)
    image.paste(picture, (0, height))
    ImageDraw.Draw(image).text(
        (picture.width / 2, height / 2),
        STAMP,
        ink,
        picture_font(BOLD, 0.7 * height),
        anchor="mm",
    )
    return image


def _png(image: Image.Image) -> bytes:
    stream = BytesIO()
    image.save(stream, "PNG", compress_level=3)
    return stream.getvalue()
