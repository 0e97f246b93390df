"""The bench card as pages to print and as a picture."""

import io
from pathlib import Path

from PIL import Image
from reportlab.graphics import renderPDF
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from eyefind.errors import UsageError, WriteError
from eyefind.photo.card_code import MOST_NUMBER, code_rectangles
from eyefind.photo.card_layout import (
    CARD_MM,
    LINE_MM,
    RULER_MM,
    TICK_HALF_MM,
    TICK_STEP_MM,
    Rectangle,
    card_image,
    card_rectangles,
)
from eyefind.photo.lamp_drawing import lamp_drawing

PAPERS = {"A4": A4, "letter": LETTER}
"""Page sizes, pt."""
PNG_DPI = 600
MM_PER_INCH = 25.4

MARGIN_MM = 20.0
CARD_TOP_MM = 62.0
"""From the page's upper edge to the card's."""
CHECK_TOP_MM = 165.0
"""From the page's upper edge to the check line."""
CUT_GAP_MM, CUT_LONG_MM = 2.0, 6.0
"""Cut marks start off the card, so that no ink stays on it."""

TITLE_PT, TEXT_PT, LEADING_PT = 20, 14, 20
LAMP_SET_PT = 13

RUN_TOPS_MM = (22.0, 122.0)
"""Where the cards of a numbered run lie on a page."""
RUN_CHECK_TOP_MM = 222.0
NUMBER_PT = 22
NUMBER_LEFT_BASE_MM = (75.5, 20.0)
"""Right of the code, clear of its white margin and of the marker."""

ABOVE = (
    "Print at 100 % (actual size), not \u201cfit to page\u201d.",
    "Use matt white paper: shiny paper mirrors the lamp.",
)
BELOW = (
    "From the first to the last tick this line must measure 50 mm.",
    "If it does not, the printer has changed the size: print again at 100 %.",
    "",
    "Cut along the marks, away from your hand. Glue the card on stiff board.",
    "Lay it beside the clump, flat, as high as the crown, and well in the light.",
    "Write the clump's name on its white part if you like.",
)
LAMP_SET = (
    "Eyes show best on two to four photos of one view: move the lamp, nothing else.",
)
LAMP_SET_TOP_MM, DRAWING_BASE_MM = 226.0, 270.0
"""From the page's upper edge; Letter ends at 279 mm."""


def write_card(folder: Path) -> list[Path]:
    """Write the bench card, true to size.

    Parameters
    ----------
    folder : Path
        Where to; it is made if it is missing.

    Returns
    -------
    list of Path
        A PDF each for A4 and Letter, with cut marks and a check line of 50 mm, and a
        PNG of the card alone at 600 dpi.

    Raises
    ------
    WriteError
        If the folder or a file cannot be written.
    """
    contents = {f"eyefind-card-{paper}.pdf": _page(paper) for paper in PAPERS}
    contents["eyefind-card.png"] = _png()
    return _write_all(folder, contents)


def write_numbered_cards(folder: Path, first: int, count: int) -> list[Path]:
    """Write a run of numbered bench cards, two a page.

    Parameters
    ----------
    folder : Path
        Where to; it is made if it is missing.
    first, count : int
        First number, and how many.

    Returns
    -------
    list of Path
        A PDF each for A4 and Letter.

    Raises
    ------
    UsageError
        If a number lies outside 1 to 9999.
    WriteError
        If the folder or a file cannot be written.
    """
    numbers = range(first, first + count)
    if count < 1 or first < 1 or numbers[-1] > MOST_NUMBER:
        raise UsageError(
            f"Cards {first} to {first + count - 1} cannot be printed.",
            f"Numbers go from 1 to {MOST_NUMBER}.",
        )
    run = f"{numbers[0]:04d}-{numbers[-1]:04d}"
    return _write_all(
        folder,
        {f"eyefind-cards-{run}-{paper}.pdf": _run(paper, numbers) for paper in PAPERS},
    )


def _write_all(folder: Path, contents: dict[str, bytes]) -> list[Path]:
    written = []
    for name, content in contents.items():
        path = folder / name
        try:
            folder.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        except OSError as error:
            raise WriteError(
                f"{path} cannot be written: {error.strerror}.",
                "Choose another folder, or make room on the disk.",
            ) from error
        written.append(path)
    return written


def _png() -> bytes:
    buffer = io.BytesIO()
    image = Image.fromarray(card_image(PNG_DPI / MM_PER_INCH))
    image.save(buffer, "PNG", dpi=(PNG_DPI, PNG_DPI))
    return buffer.getvalue()


def _page(paper: str) -> bytes:
    buffer = io.BytesIO()
    width_pt, height_pt = PAPERS[paper]
    canvas = Canvas(buffer, pagesize=(width_pt, height_pt), invariant=1)
    canvas.setTitle("eyefind bench card")
    canvas.setViewerPreference("PrintScaling", "None")
    left_mm = (width_pt / mm - CARD_MM[0]) / 2
    _text(canvas, height_pt, MARGIN_MM + 4, ("Bench card",), TITLE_PT)
    _text(canvas, height_pt, MARGIN_MM + 16, ABOVE, TEXT_PT)
    top_pt = height_pt - CARD_TOP_MM * mm
    _card(canvas, left_mm * mm, top_pt, card_rectangles())
    _check_line(canvas, MARGIN_MM * mm, height_pt - CHECK_TOP_MM * mm)
    _text(canvas, height_pt, CHECK_TOP_MM + 12, BELOW, TEXT_PT)
    _text(canvas, height_pt, LAMP_SET_TOP_MM, LAMP_SET, LAMP_SET_PT)
    base_pt = height_pt - DRAWING_BASE_MM * mm
    renderPDF.draw(lamp_drawing(), canvas, MARGIN_MM * mm, base_pt)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _run(paper: str, numbers: range) -> bytes:
    buffer = io.BytesIO()
    width_pt, height_pt = PAPERS[paper]
    canvas = Canvas(buffer, pagesize=(width_pt, height_pt), invariant=1)
    canvas.setTitle("eyefind bench cards")
    canvas.setViewerPreference("PrintScaling", "None")
    left_pt = (width_pt - CARD_MM[0] * mm) / 2
    for start in numbers[:: len(RUN_TOPS_MM)]:
        _text(canvas, height_pt, MARGIN_MM - 6, ABOVE[:1], TEXT_PT)
        on_page = numbers[start - numbers[0] :][: len(RUN_TOPS_MM)]
        for number, top_mm in zip(on_page, RUN_TOPS_MM, strict=False):
            top_pt = height_pt - top_mm * mm
            _card(canvas, left_pt, top_pt, card_rectangles() + code_rectangles(number))
            x_mm, y_mm = NUMBER_LEFT_BASE_MM
            canvas.setFont("Helvetica-Bold", NUMBER_PT)
            canvas.setFillGray(0)
            canvas.drawString(left_pt + x_mm * mm, top_pt - y_mm * mm, f"{number:04d}")
        _check_line(canvas, MARGIN_MM * mm, height_pt - RUN_CHECK_TOP_MM * mm)
        _text(canvas, height_pt, RUN_CHECK_TOP_MM + 12, BELOW[:1], TEXT_PT)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _text(
    canvas: Canvas, height_pt: float, top_mm: float, lines: tuple[str, ...], size: int
) -> None:
    canvas.setFont("Helvetica-Bold" if size == TITLE_PT else "Helvetica", size)
    canvas.setFillGray(0)
    for number, line in enumerate(lines):
        below_pt = top_mm * mm + number * LEADING_PT
        canvas.drawString(MARGIN_MM * mm, height_pt - below_pt, line)


def _card(
    canvas: Canvas, left_pt: float, top_pt: float, boxes: list[Rectangle]
) -> None:
    """Draw the card; all of one grey is one path, so that no seam shows in a marker."""
    for grey in sorted({box.grey for box in boxes}):
        path = canvas.beginPath()
        for box in boxes:
            if box.grey == grey:
                x_pt = left_pt + box.x_mm * mm
                y_pt = top_pt - (box.y_mm + box.height_mm) * mm
                path.rect(x_pt, y_pt, box.width_mm * mm, box.height_mm * mm)
        canvas.setFillGray(grey / 255)
        canvas.drawPath(path, stroke=0, fill=1)
    canvas.setLineWidth(0.2 * mm)
    canvas.setStrokeGray(0)
    width_mm, height_mm = CARD_MM
    near, far = CUT_GAP_MM, CUT_GAP_MM + CUT_LONG_MM
    for x_mm, side in ((0.0, -1), (width_mm, 1)):
        for y_mm, down in ((0.0, 1), (height_mm, -1)):
            x_pt, y_pt = left_pt + x_mm * mm, top_pt - y_mm * mm
            canvas.line(x_pt + side * near * mm, y_pt, x_pt + side * far * mm, y_pt)
            canvas.line(x_pt, y_pt + down * near * mm, x_pt, y_pt + down * far * mm)


def _check_line(canvas: Canvas, left_pt: float, y_pt: float) -> None:
    canvas.setStrokeGray(0)
    canvas.setLineWidth(LINE_MM * mm)
    canvas.line(left_pt, y_pt, left_pt + RULER_MM * mm, y_pt)
    half_pt = 2 * TICK_HALF_MM * mm
    canvas.setFont("Helvetica", TEXT_PT)
    for number in range(round(RULER_MM / TICK_STEP_MM) + 1):
        x_pt = left_pt + number * TICK_STEP_MM * mm
        canvas.line(x_pt, y_pt - half_pt, x_pt, y_pt + half_pt)
    canvas.setFillGray(0)
    canvas.drawString(left_pt + (RULER_MM + 4) * mm, y_pt - TEXT_PT / 3, "50 mm")
