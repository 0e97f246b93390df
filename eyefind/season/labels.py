"""Labels for pieces and boxes: large type and a code, as PDF."""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import NamedTuple

import segno
from reportlab.lib.units import mm
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from eyefind.errors import UsageError
from eyefind.season.label_sizes import SIZES, LabelSize
from eyefind.season.ledger import Ledger
from eyefind.season.store import BoxPlan
from eyefind.season.tables import Season
from eyefind.sheet.flow import printable, set_up
from eyefind.sheet.fonts import BOLD, REGULAR
from eyefind.words import counted

HOLE_MM = 4.0
"""Diameter of the hole for the tie."""
CODE_MOST_MM, CODE_LEAST_MM = 22.0, 11.0
"""Side of the code with its white margin: below the least a phone cannot read it."""
CODE_SHARE = 0.26
"""Most of the width that it takes: the words come first."""
CODE_QUIET = 4
LINE_SHARES = {3: (0.36, 0.36, 0.28), 2: (0.55, 0.45)}
"""Share of the height that each line has."""
GAP = "   "
"""Between what stands in one line."""
LEADING = 1.25
STEP_PT = 0.25
"""Type sizes are tried in steps of it."""


class _Row(NamedTuple):
    """A text as it is set: `height` and `size` in points."""

    font: str
    height: float
    size: float
    lines: list[str]


@dataclass(frozen=True)
class Label:
    """What a label says.

    Attributes
    ----------
    title : str
        Largest line.
    lines : (str, str)
        The other lines.
    code : str
        What its code says.
    """

    title: str
    lines: tuple[str, str]
    code: str


def piece_labels(ledger: Ledger, season: Season, day: str | None) -> list[Label]:
    """Return the labels of all pieces, or of those of the clumps cut on a day.

    A question mark before the eyes says that the piece is doubtful.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    day : str or None
        ISO 8601 date.

    Returns
    -------
    list of Label
        By variety, clump and letter.
    """
    found = []
    for row in ledger.ask(_PIECES, season.id, day, day):
        eyes = _eyes(row["confirmed_eyes"], row["eyes"])
        doubt = "" if row["safe"] else "? "
        found.append(
            Label(
                row["variety"] or row["clump"],
                (
                    f"{piece_name(row['clump'], row['letter'])}{GAP}{season.year}",
                    f"{doubt}{eyes}",
                ),
                piece_code(season, row["clump"], row["letter"]),
            )
        )
    return found


def box_labels(season: Season, plan: BoxPlan) -> list[Label]:
    """Return one label a box: its varieties and what to look at first."""
    found = []
    for filled in plan.boxes:
        counts: dict[str, int] = {}
        for piece in filled.pieces:
            name = piece.variety or "not named yet"
            counts[name] = counts.get(name, 0) + 1
        on_top = sum(piece.layer == "top" for piece in filled.pieces)
        said = ", ".join(f"{name} {count}" for name, count in counts.items())
        found.append(
            Label(
                f"Box {filled.box.name}",
                (said or "empty", f"{season.year}; check the {on_top} on top first"),
                f"EYE-{season.year}-BOX-{filled.box.name}",
            )
        )
    return found


def piece_name(clump: str, letter: str) -> str:
    """Return the short name of a piece: ``17-B`` for clump ``EYE-0017``."""
    number = clump.removeprefix("EYE-")
    short = str(int(number)) if number.isdecimal() else clump
    return f"{short}-{letter}"


def piece_code(season: Season, clump: str, letter: str) -> str:
    """Return what a piece's code says: ``EYE-2026-0017-B``."""
    return f"EYE-{season.year}-{clump.removeprefix('EYE-')}-{letter}"


def make_labels(labels: Sequence[Label], size_name: str, skip: int = 0) -> bytes:
    """Set labels as PDF.

    Parameters
    ----------
    labels : sequence of Label
        What they say.
    size_name : str
        One of `SIZES`.
    skip : int
        Places of the first sheet that are used up.

    Returns
    -------
    bytes
        The PDF file; nothing is cut off: long texts are broken and set smaller.

    Raises
    ------
    UsageError
        If there is no such size, no label, or all places are to be skipped.
    """
    if size_name not in SIZES:
        raise UsageError(
            f"There is no label size {size_name}.",
            f"The sizes are: {', '.join(SIZES)}.",
        )
    size = SIZES[size_name]
    places = size.columns * size.rows
    if not labels:
        raise UsageError("There is no piece to label.", "Look at photos first.")
    if not 0 <= skip < places:
        raise UsageError(
            f"{skip} places cannot be skipped.", f"A page has {places} of them."
        )
    set_up()
    stream = BytesIO()
    page = (size.page_mm[0] * mm, size.page_mm[1] * mm)
    canvas = Canvas(stream, pagesize=page, invariant=1)
    canvas.setTitle("eyefind labels")
    canvas.setViewerPreference("PrintScaling", "None")
    for number, label in enumerate(labels, skip):
        place = number % places
        if place == 0 and number > skip:
            canvas.showPage()
        row, column = divmod(place, size.columns)
        left = size.left_mm + column * size.pitch_mm[0]
        top = size.page_mm[1] - size.top_mm - row * size.pitch_mm[1]
        _draw(canvas, label, size, left * mm, (top - size.label_mm[1]) * mm)
    canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _draw(
    canvas: Canvas, label: Label, size: LabelSize, left: float, bottom: float
) -> None:
    width, height = (side * mm for side in size.label_mm)
    margin_x, margin_y = (side * mm for side in size.margins_mm)
    canvas.setFillGray(0)
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.4)
    if size.cut_lines:
        canvas.rect(left, bottom, width, height)
    start, end = left + margin_x, left + width - margin_x
    if size.hole:
        radius = HOLE_MM / 2 * mm
        canvas.circle(start + radius, bottom + height / 2, radius)
        start += HOLE_MM * mm + margin_x
    side = min(height - margin_y, CODE_MOST_MM * mm, CODE_SHARE * width)
    if side >= CODE_LEAST_MM * mm:
        end -= side
        _draw_code(canvas, label.code, end, bottom + (height - side) / 2, side)
    _draw_lines(canvas, label, (start, end), (bottom + margin_y, height - 2 * margin_y))


def _draw_lines(
    canvas: Canvas,
    label: Label,
    across: tuple[float, float],
    up: tuple[float, float],
) -> None:
    """Set the texts between `across`, from the top of `up` (bottom, height), points."""
    room = across[1] - across[0], up[1]
    rows = _set((label.title, *label.lines), *room)
    # On long labels two lines leave room for larger type than three.
    fewer = _set((label.title, GAP.join(label.lines)), *room)
    in_lines = all(len(row.lines) == 1 for row in fewer)
    if in_lines and min(r.size for r in fewer) > min(r.size for r in rows):
        rows = fewer
    top = up[0] + up[1]
    for row in rows:
        canvas.setFont(row.font, row.size)
        base = top - (row.height - len(row.lines) * LEADING * row.size) / 2
        for line in row.lines:
            base -= LEADING * row.size
            # The type's middle lies in the middle of its line.
            canvas.drawString(across[0], base + (LEADING / 2 - 0.36) * row.size, line)
        top -= row.height


def _set(texts: Sequence[str], width: float, height: float) -> list[_Row]:
    """Set texts below each other in a room, points; the last one is not bold."""
    fonts = [BOLD] * (len(texts) - 1) + [REGULAR]
    return [
        _Row(
            font, share * height, *fitted(printable(text), font, width, share * height)
        )
        for text, font, share in zip(texts, fonts, LINE_SHARES[len(texts)], strict=True)
    ]


def fitted(
    text: str, font: str, width: float, height: float
) -> tuple[float, list[str]]:
    """Break a text into lines and set it as large as fits.

    Parameters
    ----------
    text, font : str
        The text and its font.
    width, height : float
        Room, points.

    Returns
    -------
    size : float
        Type size, points.
    lines : list of str
        Its lines; broken at spaces only.
    """
    size = height / LEADING
    while size > STEP_PT:
        # A text that fits into one line keeps its wide gaps.
        whole = stringWidth(text, font, size) <= width
        lines = [text] if whole else simpleSplit(text, font, size, width)
        widest = max((stringWidth(line, font, size) for line in lines), default=0.0)
        if widest <= width and len(lines) * LEADING * size <= height:
            return size, lines
        size -= STEP_PT
    return STEP_PT, [text]


def _draw_code(
    canvas: Canvas, text: str, left: float, bottom: float, side: float
) -> None:
    code = segno.make(text.upper(), error="m", micro=False)
    modules = len(code.matrix) + 2 * CODE_QUIET
    step = side / modules
    path = canvas.beginPath()
    for row, line in enumerate(code.matrix):
        for column, dark in enumerate(line):
            if dark:
                x = left + (CODE_QUIET + column) * step
                y = bottom + side - (CODE_QUIET + row + 1) * step
                path.rect(x, y, step, step)
    canvas.drawPath(path, stroke=0, fill=1)


def _eyes(confirmed: int, all_eyes: int) -> str:
    likely = all_eyes - confirmed
    said = [
        f"{counted(count, 'eye')} {word}"
        for count, word in ((confirmed, "sure"), (likely, "likely"))
        if count
    ]
    return ", ".join(said) or "no eye seen"


_PIECES = """
    SELECT * FROM piece_seen WHERE season_id = ? AND (? IS NULL OR cut_on = ?)
    ORDER BY variety, clump, letter
"""
