"""Writing of the sheet: pages to print as PDF, one long picture for a phone as PNG."""

from io import BytesIO
from pathlib import Path

from PIL import Image, ImageDraw

from eyefind.data import Photo, Record, Says
from eyefind.errors import UsageError
from eyefind.record import record_path, write_bytes
from eyefind.record.store import ENDING as RECORD_ENDING
from eyefind.rules import Rules
from eyefind.sheet.fonts import BOLD, picture_font
from eyefind.sheet.pages import Paper, make_pdf
from eyefind.sheet.phone import with_steps
from eyefind.sheet.picture import draw_all
from eyefind.sheet.style import TEXT_PAIRS
from eyefind.sheet.words import STAMP

ENDING = ".eyefind-sheet"


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
        ``NAME.eyefind-sheet.png`` and ``NAME.eyefind-sheet.pdf``.

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
    pictures = draw_all(photo, record, standing)
    path = record_path(Path(photo.file), folder)
    pages = make_pdf(pictures, record, record.plan, standing, rules, paper, path.name)
    shown = pictures.clump if record.plan.reviewed else stamped(pictures.clump)
    shown = with_steps(shown, record, record.plan, standing, rules)
    name = path.name.removesuffix(RECORD_ENDING)
    paths = [folder / f"{name}{ENDING}.png", folder / f"{name}{ENDING}.pdf"]
    for path, data in zip(paths, (_png(shown), pages), strict=True):
        write_bytes(path, data)
    return paths


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
