"""What the pages are made of: typefaces, paragraph styles, numbered paragraphs."""

import re
from html import escape
from io import BytesIO
from typing import Any, Final

from PIL import Image as PilImage
from reportlab import rl_config
from reportlab.lib.colors import Color
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Paragraph

from eyefind.sheet.fonts import BOLD, REGULAR, font_bytes
from eyefind.sheet.style import (
    BLACK,
    BODY_PT,
    CAUTION_PAPER,
    FOOT_PT,
    HEADING_PT,
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
CLOSE: Final = (
    *BARE,
    ("TOPPADDING", (0, 0), (-1, -1), 1),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
)
"""The same for rows that stand close."""
INDENT: Final = 2.2
"""Left edge of what belongs to a numbered step, as a share of its letters' size."""


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
STEP: Final = _style(
    "step",
    REGULAR,
    BODY_PT,
    bulletFontName=BOLD,
    bulletAnchor="middle",
    bulletColor=pdf_colour(WHITE),
)
CAUTION: Final = _style(
    "caution",
    REGULAR,
    BODY_PT,
    leftIndent=3,
    rightIndent=3,
    spaceBefore=3,
    spaceAfter=5,
    backColor=pdf_colour(CAUTION_PAPER),
    borderColor=pdf_colour(BLACK),
    borderWidth=0.8,
    borderPadding=(0, 3, 2, 3),
)
FOOT: Final = _style("foot", REGULAR, FOOT_PT)
STAMP: Final = _style("stamp", BOLD, STAMP_PT)
STAMP_WHY: Final = _style("stamp why", BOLD, FOOT_PT)
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


def marked_up(text: str) -> str:
    """Return plain `text` as it can stand in a paragraph with markup."""
    return escape(printable(text))


def paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    """Return a paragraph of plain `text`."""
    return Paragraph(marked_up(text), style)


def sized(style: ParagraphStyle, size: float) -> ParagraphStyle:
    """Return `style` with letters of `size` points."""
    name = f"{style.name} {size}"
    return style.clone(name, fontSize=size, leading=1.22 * size)


def step_line(number: str, markup: str, size: float) -> Paragraph:
    """Return a step in one paragraph of `markup`, its number in a disc."""
    figure = 1.15 * size * (1.0 if len(number) == 1 else 0.87)
    style = STEP.clone(
        f"line {number} {size}",
        fontSize=size,
        leading=1.22 * size,
        leftIndent=INDENT * size,
        bulletIndent=0.9 * size,
        bulletFontSize=figure,
        discRadius=0.8 * size,
        spaceBefore=0.2 * size,
    )
    return DiscHeading(markup, style, bulletText=number)


class Picture(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A picture, `width` points wide; it is only packed when it is drawn."""

    def __init__(self, image: PilImage.Image, width: float) -> None:
        super().__init__()
        self.hAlign = "CENTER"
        self.width, self.height = width, width * image.height / image.width
        self._image = image

    def draw(self) -> None:
        """Draw the picture."""
        stream = BytesIO()
        # JPEG keeps the file small.
        self._image.save(stream, "JPEG", quality=88, subsampling=0)
        self.canv.drawImage(ImageReader(stream), 0, 0, self.width, self.height)


def caution(
    texts: list[str], size: float = BODY_PT, indent: float = 0.0, head: str = ""
) -> Paragraph:
    """Return cautions in one box, each behind a warning sign.

    Parameters
    ----------
    texts : list of str
        The cautions.
    size : float
        Of the letters, in points.
    indent : float
        Of the box, in points.
    head : str
        What stands before the first in bold.
    """
    style = CAUTION.clone(
        f"caution {size} {indent}",
        fontSize=size,
        leading=1.2 * size,
        leftIndent=indent + CAUTION.leftIndent,
    )
    signs = [f"{SIGN} {head}", *[SIGN] * len(texts)] if head else [SIGN] * len(texts)
    return Paragraph(_signed(signs, texts), style)


def run_in_caution(texts: list[str]) -> str:
    """Return cautions as markup that follows other words: underlined, on a ground."""
    ground = "#{:02x}{:02x}{:02x}".format(*CAUTION_PAPER)
    marked = _signed([SIGN] * len(texts), texts)
    return f'<font backColor="{ground}"><u>{marked}</u></font>'


def _signed(signs: list[str], texts: list[str]) -> str:
    """Return texts as markup, each behind its sign, which ends no line."""
    return " ".join(
        f"<b>{marked_up(sign)}</b>&nbsp;{marked_up(text)}"
        for sign, text in zip(signs, texts, strict=False)
    )


def together(lines: list[Flowable]) -> list[Flowable]:
    """Return `lines` such that they stay on one page where one page holds them."""
    for number, line in enumerate(lines, 1):
        line.keepWithNext = number < len(lines)
    return lines


def height_of(part: Flowable, width: float) -> float:
    """Return the height of `part` with the space around it, in points."""
    _, height = part.wrap(width, 1e6)
    return float(part.getSpaceBefore() + height + part.getSpaceAfter())
