"""What the pages are made of: typefaces, paragraph styles, numbered paragraphs."""

import re
from html import escape
from io import BytesIO
from typing import Any, Final

from PIL import Image as PilImage
from reportlab import rl_config
from reportlab.lib.colors import Color
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Image, Paragraph

from eyefind.sheet.fonts import BOLD, REGULAR, font_bytes
from eyefind.sheet.style import (
    BLACK,
    BODY_PT,
    CAUTION_PAPER,
    FOOT_PT,
    HEADING_PT,
    NUMBER_PT,
    STAMP_PT,
    TITLE_PT,
    WHITE,
    Colour,
)

# Spaces at which a measure such as "82 × 30 mm" must not break.
_WITHIN_MEASURE: Final = re.compile(
    r"(?<=[0-9]) (?=(mm|ml|%)(?!\w)|×)|(?<=[×±]) (?=[0-9])"
)
SIGN: Final = "\N{WARNING SIGN}"
BARE: Final = (
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ("TOPPADDING", (0, 0), (-1, -1), 2),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
)
"""Style of a table without lines."""
INDENT: Final = 14 * mm
"""Left edge of what belongs to a numbered step."""


def pdf_colour(colour: Colour) -> Color:
    """Return an sRGB colour as reportlab wants it."""
    return Color(*(value / 255 for value in colour))


def _style(name: str, font: str, size: float, **more: Any) -> ParagraphStyle:
    return ParagraphStyle(
        name,
        fontName=font,
        fontSize=size,
        leading=1.25 * size,
        textColor=pdf_colour(BLACK),
        **more,
    )


TITLE: Final = _style("title", BOLD, TITLE_PT)
HEADING: Final = _style("heading", BOLD, HEADING_PT, spaceBefore=8, spaceAfter=3)
BODY: Final = _style("body", REGULAR, BODY_PT, spaceAfter=4)
STRONG: Final = _style("strong", BOLD, BODY_PT, spaceAfter=2)
CELL: Final = _style("cell", REGULAR, BODY_PT)
LETTER: Final = _style("letter", BOLD, NUMBER_PT, alignment=1)
STEP_HEAD: Final = _style(
    "step head",
    BOLD,
    BODY_PT + 2,
    leftIndent=INDENT,
    spaceBefore=13,
    spaceAfter=2,
    bulletFontName=BOLD,
    bulletFontSize=NUMBER_PT,
    bulletIndent=0.4 * INDENT,
    bulletAnchor="middle",
    bulletColor=pdf_colour(WHITE),
    discRadius=0.76 * NUMBER_PT,
)
STEP_LINE: Final = STEP_HEAD.clone(
    "step line",
    fontName=REGULAR,
    fontSize=BODY_PT,
    leading=1.8 * BODY_PT,
    spaceBefore=0,
    spaceAfter=0,
    bulletFontSize=BODY_PT,
    discRadius=0.8 * BODY_PT,
)
STEPS_HEAD: Final = _style("steps", BOLD, BODY_PT + 2, leftIndent=INDENT, spaceBefore=8)
STEP: Final = _style("step", REGULAR, BODY_PT, leftIndent=INDENT, spaceAfter=3)
NOTE: Final = _style("note", REGULAR, BODY_PT, leftIndent=INDENT, spaceAfter=6)
CAUTION: Final = _style(
    "caution",
    REGULAR,
    BODY_PT,
    leftIndent=2 * mm,
    rightIndent=2 * mm,
    spaceBefore=7,
    spaceAfter=9,
    backColor=pdf_colour(CAUTION_PAPER),
    borderColor=pdf_colour(BLACK),
    borderWidth=1.2,
    borderPadding=(2, 5, 4, 5),
)
STEP_CAUTION: Final = CAUTION.clone("step caution", leftIndent=INDENT + 2 * mm)
FOOT: Final = _style("foot", REGULAR, FOOT_PT)
STAMP: Final = _style("stamp", BOLD, STAMP_PT, alignment=1)
STAMP_WHY: Final = _style("stamp why", BOLD, BODY_PT, alignment=1)
STAMP.textColor = STAMP_WHY.textColor = pdf_colour(WHITE)


class DiscHeading(Paragraph):  # type: ignore[misc]  # reportlab has no types
    """Heading of a step, its number in a disc as in the picture."""

    def draw(self) -> None:
        """Draw the disc, then number and words over it."""
        if self.bulletText:
            style = self.style
            # The first line's baseline lies one font size below the top.
            middle = self.height - style.fontSize + 0.36 * style.bulletFontSize
            self.canv.setFillColor(pdf_colour(BLACK))
            self.canv.circle(
                style.bulletIndent, middle, style.discRadius, stroke=0, fill=1
            )
        super().draw()


def set_up() -> None:
    """Make the shipped typefaces known to reportlab; let it write pictures as bytes."""
    # Its default, ASCII text for all, is slow and makes files a quarter larger.
    rl_config.useA85 = 0
    for name in (REGULAR, BOLD):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, font_bytes(name)))
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, BOLD, REGULAR, BOLD)


def printable(text: str) -> str:
    """Return `text` as it can be set: a box for what the typeface lacks, units kept."""
    known = pdfmetrics.getFont(REGULAR).face.charToGlyph
    text = _WITHIN_MEASURE.sub("\N{NO-BREAK SPACE}", text)
    spaced = "".join(" " if letter in "\t\n\r" else letter for letter in text)
    return "".join(letter if ord(letter) in known else "□" for letter in spaced)


def paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    """Return a paragraph of plain `text`."""
    return Paragraph(escape(printable(text)), style)


def step_heading(
    number: str, text: str, style: ParagraphStyle = STEP_HEAD
) -> Paragraph:
    """Return the heading of step `number`."""
    # Two figures share the room of one.
    size = style.bulletFontSize * (1.0 if len(number) == 1 else 0.75)
    fitted = style.clone(f"{style.name} {size}", bulletFontSize=size)
    return DiscHeading(escape(printable(text)), fitted, bulletText=number)


def sized(style: ParagraphStyle, size: float) -> ParagraphStyle:
    """Return `style` with letters of `size` points."""
    name = f"{style.name} {size}"
    return style.clone(name, fontSize=size, leading=1.22 * size)


def step_line(number: str, markup: str, size: float) -> Paragraph:
    """Return a step in one paragraph of `markup`, its number in a disc."""
    figure = 1.15 * size * (1.0 if len(number) == 1 else 0.87)
    style = STEP_LINE.clone(
        f"line {number} {size}",
        fontSize=size,
        leading=1.22 * size,
        leftIndent=2.2 * size,
        bulletIndent=0.9 * size,
        bulletFontSize=figure,
        discRadius=0.8 * size,
        spaceBefore=0.3 * size,
    )
    return DiscHeading(markup, style, bulletText=number)


def picture(image: PilImage.Image, width: float) -> Image:
    """Return a picture, `width` points wide."""
    stream = BytesIO()
    # JPEG keeps the file small.
    image.save(stream, "JPEG", quality=88, subsampling=0)
    return Image(BytesIO(stream.getvalue()), width, width * image.height / image.width)


def caution(texts: list[str], style: ParagraphStyle) -> Paragraph:
    """Return cautions in one box, each on a line of its own behind a warning sign."""
    lines = (f"<b>{SIGN}</b> {escape(printable(text))}" for text in texts)
    return Paragraph("<br/>".join(lines), style)


def together(lines: list[Flowable]) -> list[Flowable]:
    """Return `lines` such that they stay on one page where one page holds them."""
    for number, line in enumerate(lines, 1):
        line.keepWithNext = number < len(lines)
    return lines


def height_of(part: Flowable, width: float) -> float:
    """Return the height of `part` with the space around it, in points."""
    _, height = part.wrap(width, 1e6)
    return float(part.getSpaceBefore() + height + part.getSpaceAfter())
