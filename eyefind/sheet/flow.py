"""What the pages are made of: typefaces, paragraph styles, numbered paragraphs."""

import re
from collections.abc import Callable
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
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

from eyefind.sheet.fonts import BOLD, REGULAR, font_bytes
from eyefind.sheet.pen import Letters
from eyefind.sheet.picture import Drawn
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
TIGHT: Final = (
    *BARE,
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
)
"""And for one that only places things."""
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
    """Return `text` as it can be set: a box for what the typeface lacks, units kept.

    So are letters past U+FFFF that it has: reportlab tells readers their numbers with
    an odd count of digits (PDF 32000-1, 9.10.3 wants UTF-16), and all of the text set
    in that face can then neither be copied nor read out.
    """
    known = pdfmetrics.getFont(REGULAR).face.charToGlyph
    text = _WITHIN_MEASURE.sub("\N{NO-BREAK SPACE}", text)
    spaced = "".join(" " if letter in "\t\n\r" else letter for letter in text)
    return "".join(
        letter if letter <= "\uffff" and ord(letter) in known else "□"
        for letter in spaced
    )


def marked_up(text: str) -> str:
    """Return plain `text` as it can stand in a paragraph with markup."""
    return escape(printable(text))


def paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    """Return a paragraph of plain `text`."""
    return Paragraph(marked_up(text), style)


def sized(style: ParagraphStyle, size: float) -> ParagraphStyle:
    """Return `style` with letters of `size` points."""
    name = f"{style.name} {size}"
    return style.clone(name, fontSize=size, leading=_leading(size))


def _leading(size: float) -> float:
    """Return the distance of lines; the least letters stand as close as they may."""
    return (1.22 if size > FOOT_PT else 1.16) * size


def step_line(number: str, markup: str, size: float, hangs: bool) -> Paragraph:
    """Return a step in one paragraph of `markup`, its number in a disc.

    Parameters
    ----------
    number, markup : str
        Number and words.
    size : float
        Of the letters, in points.
    hangs : bool
        Whether the number has a column of its own, or only room in the first line.
    """
    indent = INDENT * size
    figure = 1.15 * size * (1.0 if len(number) == 1 else 0.87)
    style = STEP.clone(
        f"line {number} {size} {hangs}",
        fontSize=size,
        leading=_leading(size),
        leftIndent=indent if hangs else 0,
        firstLineIndent=0 if hangs else indent,
        bulletIndent=0.9 * size,
        bulletFontSize=figure,
        discRadius=0.8 * size,
        spaceBefore=0.3 * size,
    )
    return DiscHeading(markup, style, bulletText=number)


class Picture(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A picture, so many points large; it is only drawn when the page is written."""

    def __init__(
        self, draw: Callable[[float], Drawn], width: float, aspect: float
    ) -> None:
        super().__init__()
        self.hAlign = "CENTER"
        self.width, self.height = width, width / aspect
        self._draw = draw

    def draw(self) -> None:
        """Draw the picture, then its letters as text."""
        drawn = self._draw(self.width)
        stream = BytesIO()
        # JPEG keeps the file small.
        drawn.image.save(stream, "JPEG", quality=88, subsampling=0)
        self.canv.drawImage(ImageReader(stream), 0, 0, self.width, self.height)
        for letters in drawn.letters:
            _set_letters(self.canv, letters, drawn.image, self.width, self.height)


def still(image: PilImage.Image, width: float) -> Picture:
    """Return a picture that is drawn already, `width` points wide."""
    drawn = Drawn(image)
    return Picture(lambda _: drawn, width, image.width / image.height)


def _set_letters(
    canvas: Canvas,
    letters: Letters,
    image: PilImage.Image,
    width: float,
    height: float,
) -> None:
    """Set letters of a picture at their places."""
    pt = width / image.width
    size = letters.size * pt
    x, down = letters.centre * pt
    # The way of drawing letters outlives the text object.
    canvas.saveState()
    text = canvas.beginText()
    text.setFont(BOLD, size)
    wide = pdfmetrics.stringWidth(letters.text, BOLD, size)
    # Pillow's middle lies halfway between the typeface's highest and lowest parts.
    ascent, descent = pdfmetrics.getAscentDescent(BOLD, size)
    text.setTextOrigin(x - wide / 2, height - down - (ascent + descent) / 2)
    ink = pdf_colour(letters.ink)
    text.setFillColor(ink)
    if letters.halo:
        canvas.setLineWidth(2 * letters.halo * pt)
        canvas.setLineJoin(1)
        text.setStrokeColor(ink)
    text.setTextRenderMode(2 if letters.halo else 0)
    text.textOut(letters.text)
    canvas.drawText(text)
    canvas.restoreState()


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
        leading=_leading(size),
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
