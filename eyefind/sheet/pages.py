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
    PageBreak,
    PageTemplate,
    Paragraph,
)

from eyefind.data import Plan, Record, Says
from eyefind.rules import Rules
from eyefind.sheet import flow, words
from eyefind.sheet.front import Front
from eyefind.sheet.picture import Pictures
from eyefind.sheet.story import Story
from eyefind.sheet.style import BLACK

Paper = Literal["A4", "Letter"]

_SIZES: Final = {"A4": A4, "Letter": LETTER}
_MARGIN: Final = 14 * mm
_EDGE: Final = 9 * mm
"""Least distance of anything from the paper's edge; printers cannot reach it."""


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
    page = _page_of(name, plan, paper)
    size = page.width, page.height
    front = Front(record, plan, standing, record_name, *size)
    story = Story(record, plan, standing, rules, page.width)

    def told() -> list[Flowable]:
        return [*front.tell(pictures), PageBreak(), *story.tell(pictures)]

    # Set twice: only the first setting tells how many pages there are.
    _, pages = _set(told(), name, plan, paper, 0)
    data, _ = _set(told(), name, plan, paper, pages)
    return data


def _page_of(name: str, plan: Plan, paper: Paper) -> Frame:
    """Return the part of a page that the text flows through."""
    width, height = _SIZES[paper]
    foot = _foot_height(name, width)
    top = _EDGE if plan.reviewed else _band_height(width) + 3 * mm
    pad = (0, 0, 0, 0)
    return Frame(_MARGIN, foot, width - 2 * _MARGIN, height - top - foot, *pad)


def _set(
    told: list[Flowable], name: str, plan: Plan, paper: Paper, pages: int
) -> tuple[bytes, int]:
    """Set what is told; return the file and its number of pages."""
    furnish = _furnisher(name, not plan.reviewed, pages)
    template = PageTemplate(frames=[_page_of(name, plan, paper)], onPage=furnish)
    stream = BytesIO()
    document = BaseDocTemplate(
        stream,
        pagesize=_SIZES[paper],
        pageTemplates=[template],
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


def _band(width: float) -> list[tuple[Paragraph, float]]:
    """Return the lines of the stamp with their heights."""
    lines = [
        flow.paragraph(words.STAMP, flow.STAMP),
        flow.paragraph(words.STAMP_WHY, flow.STAMP_WHY),
    ]
    return [(line, flow.height_of(line, width - 2 * _MARGIN)) for line in lines]


def _band_height(width: float) -> float:
    lines = sum(height for _, height in _band(width))
    return float(_EDGE + lines + 2 * mm)


def _draw_band(canvas: Canvas, width: float, height: float) -> None:
    """Draw the stamp from edge to edge, where it hides nothing."""
    below = height - _band_height(width)
    canvas.setFillColor(flow.pdf_colour(BLACK))
    canvas.rect(0, below, width, height - below, stroke=0, fill=1)
    top = height - _EDGE
    for line, line_height in _band(width):
        top -= line_height
        line.drawOn(canvas, _MARGIN, top)
