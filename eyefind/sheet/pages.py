"""The pages of the sheet as PDF: vector text that flows and is never clipped."""

from collections.abc import Callable
from html import escape
from io import BytesIO
from typing import Final, Literal

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    NextPageTemplate,
    PageBreak,
    PageTemplate,
    Paragraph,
    Table,
)

from eyefind.data import Plan, Record, Says
from eyefind.rules import Rules
from eyefind.sheet import flow, words
from eyefind.sheet.front import Front
from eyefind.sheet.picture import Pictures
from eyefind.sheet.story import Story
from eyefind.sheet.style import BLACK, BODY_PT, FOOT_PT, TIGHT_PT

Paper = Literal["A4", "Letter"]

_SIZES: Final = {"A4": A4, "Letter": LETTER}
_MARGIN: Final = 11 * mm
_EDGE: Final = 8 * mm
"""Least distance of anything from the paper's edge; printers cannot reach it."""
_BETWEEN: Final = 7 * mm
"""Between the columns of the second page."""
_AFTER: Final = "after"
_PAGES: Final = 2
"""So many pages a sheet has, if its words leave it any choice."""
_AFTER_SIZES: Final = ((BODY_PT, 0.5), (TIGHT_PT, 0.5), (FOOT_PT, 0.5), (FOOT_PT, 0.35))
"""Sizes of the second page's letters and pictures (see `Story`): the first with which
all fits is taken."""


def make_pdf(
    pictures: Pictures,
    record: Record,
    plan: Plan,
    standing: dict[str, Says],
    rules: Rules,
    paper: Paper,
    record_name: str,
) -> bytes:
    """Set the pages.

    Parameters
    ----------
    pictures : Pictures
        All pictures of the clump.
    record : Record
        What is known of the clump.
    plan : Plan
        Its plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    rules : Rules
        The rules of the trade in use.
    paper : str
        ``"A4"`` or ``"Letter"``.
    record_name : str
        Name of the record's file: the code on the first page leads to it.

    Returns
    -------
    bytes
        The PDF file; the same input gives the same bytes.
    """
    flow.set_up()
    name = flow.printable(words.clump_name(record.photo))
    bench, *columns = _frames(name, plan, paper)
    front = Front(record, plan, standing, record_name, bench.width, bench.height)

    def set_pages(size: float, tallest: float, pages: int) -> tuple[bytes, int]:
        first, moved = front.tell(pictures)
        after = Story(record, plan, standing, rules, columns[0].width, size, tallest)
        told = [
            *first,
            NextPageTemplate(_AFTER),
            PageBreak(),
            *after.tell(pictures, moved),
        ]
        return _set(told, name, plan, paper, pages)

    for sizes in _AFTER_SIZES:
        data, pages = set_pages(*sizes, _PAGES)
        if pages <= _PAGES:
            break
    # Only a first setting tells how many pages there are.
    return data if pages == _PAGES else set_pages(*sizes, pages)[0]


def _frames(name: str, plan: Plan, paper: Paper) -> list[Frame]:
    """Return the part of the first page that is used, then the columns behind it."""
    width, height = _SIZES[paper]
    foot = _foot_height(name, width)
    top = _EDGE if plan.reviewed else _band_height(width) + 1 * mm
    tall, wide = height - top - foot, width - 2 * _MARGIN
    column = (wide - _BETWEEN) / 2
    pad = (0, 0, 0, 0)
    return [
        Frame(_MARGIN, foot, wide, tall, *pad),
        Frame(_MARGIN, foot, column, tall, *pad),
        Frame(_MARGIN + column + _BETWEEN, foot, column, tall, *pad),
    ]


def _set(
    told: list[Flowable], name: str, plan: Plan, paper: Paper, pages: int
) -> tuple[bytes, int]:
    """Set what is told; return the file and its number of pages."""
    furnish = _furnisher(name, not plan.reviewed, pages)
    bench, *columns = _frames(name, plan, paper)
    templates = [
        PageTemplate("bench", [bench], onPage=furnish),
        PageTemplate(_AFTER, columns, onPage=furnish),
    ]
    stream = BytesIO()
    document = BaseDocTemplate(
        stream,
        pagesize=_SIZES[paper],
        pageTemplates=templates,
        title=f"{name}, cut sheet",
        creator="eyefind",
        invariant=1,
    )
    document.build(told)
    return stream.getvalue(), document.page


def _furnisher(
    name: str, stamped: bool, pages: int
) -> Callable[[Canvas, BaseDocTemplate], None]:
    """Return what draws the stamp and the foot of each page."""

    def furnish(canvas: Canvas, document: BaseDocTemplate) -> None:
        width, height = document.pagesize
        foot = _foot(name, document.page, pages)
        foot.wrap(width - 2 * _MARGIN, height)
        foot.drawOn(canvas, _MARGIN, _EDGE)
        if stamped:
            _draw_band(canvas, width, height)

    return furnish


def _foot(name: str, page: int, pages: int) -> Paragraph:
    line = f"<b>{escape(name)}</b>, page {page} of {pages}. {words.ADVICE_ONLY}"
    return Paragraph(line, flow.FOOT)


def _foot_height(name: str, width: float) -> float:
    # Wide numbers, so that no real ones wrap into another line.
    height = flow.height_of(_foot(name, 888, 888), width - 2 * _MARGIN)
    return float(_EDGE + height + 2 * mm)


def _band(width: float) -> Table:
    """Return the stamp: what it says, and beside it what to do."""
    lines = [flow.paragraph(text, flow.STAMP_WHY) for text in words.STAMP_WHY]
    stamp = flow.paragraph(words.STAMP, flow.STAMP)
    wide = width - 2 * _MARGIN
    middle = ("VALIGN", (0, 0), (-1, -1), "MIDDLE")
    cells = [[stamp, lines]]
    return Table(cells, [0.53 * wide, 0.47 * wide], style=[*flow.BARE, middle])


def _band_height(width: float) -> float:
    return float(_EDGE + flow.height_of(_band(width), width) + 1 * mm)


def _draw_band(canvas: Canvas, width: float, height: float) -> None:
    """Draw the stamp from edge to edge, where it hides nothing."""
    tall = _band_height(width)
    canvas.setFillColor(flow.pdf_colour(BLACK))
    canvas.rect(0, height - tall, width, tall, stroke=0, fill=1)
    band = _band(width)
    band.wrapOn(canvas, width, tall)
    band.drawOn(canvas, _MARGIN, height - tall + 1 * mm)
