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
    Table,
)

from eyefind.data import Plan, Record, Says
from eyefind.rules import Rules
from eyefind.sheet import flow, words
from eyefind.sheet.after import After
from eyefind.sheet.bench import Bench
from eyefind.sheet.picture import Pictures
from eyefind.sheet.style import BLACK, BODY_PT, FOOT_PT, TIGHT_PT

Paper = Literal["A4", "Letter"]

_SIZES: Final = {"A4": A4, "Letter": LETTER}
_MARGIN: Final = 11 * mm
_EDGE: Final = 8 * mm
"""Least distance of anything from the paper's edge; printers cannot reach it."""
_BETWEEN: Final = 7 * mm
"""Between the columns of the page for after the cuts."""
_SHEET, _AFTER = "cut sheet", "after the cuts"
_AFTER_SIZES: Final = (BODY_PT, TIGHT_PT, FOOT_PT)
"""The page for after the cuts takes the first with which one page holds all."""


def make_sheet(
    pictures: Pictures,
    record: Record,
    plan: Plan,
    standing: dict[str, Says],
    paper: Paper,
    record_name: str,
) -> bytes:
    """Set the sheet for the bench.

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
    paper : str
        ``"A4"`` or ``"Letter"``.
    record_name : str
        Name of the record's file: the code on the page leads to it.

    Returns
    -------
    bytes
        The PDF file; the same input gives the same bytes.
    """
    flow.set_up()
    name = flow.printable(words.clump_name(record.photo))
    frame, *_ = _frames(name, plan, paper)
    bench = Bench(record, plan, standing, record_name, frame.width, frame.height)

    def told() -> list[Flowable]:
        first, moved = bench.tell(pictures)
        if not moved:
            return first
        steps = bench.parts.steps(plan.cuts[-moved:], BODY_PT, boxed=True)
        return [*first, PageBreak(), *(part for step in steps for part in step)]

    return _numbered(told, name, plan, paper, _SHEET)


def make_after(
    pictures: Pictures, record: Record, plan: Plan, rules: Rules, paper: Paper
) -> bytes:
    """Set the page for after the cuts; parameters as of `make_sheet`."""
    flow.set_up()
    name = flow.printable(words.clump_name(record.photo))
    _, column, _ = _frames(name, plan, paper)
    for size in _AFTER_SIZES:
        after = After(record, plan, rules, column.width, size)
        _, pages = _set(after.tell(pictures), name, plan, paper, _AFTER, 1)
        if pages == 1:
            break
    return _numbered(lambda: after.tell(pictures), name, plan, paper, _AFTER)


def _numbered(
    told: Callable[[], list[Flowable]], name: str, plan: Plan, paper: Paper, what: str
) -> bytes:
    """Set what is told; only a first setting tells how many pages there are."""
    data, pages = _set(told(), name, plan, paper, what, 1)
    return data if pages == 1 else _set(told(), name, plan, paper, what, pages)[0]


def _frames(name: str, plan: Plan, paper: Paper) -> list[Frame]:
    """Return what a sheet may use of its page, then the columns of the other one."""
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
    told: list[Flowable], name: str, plan: Plan, paper: Paper, what: str, pages: int
) -> tuple[bytes, int]:
    """Set what is told; return the file and its number of pages."""
    bench, *columns = _frames(name, plan, paper)
    stream = BytesIO()
    document = BaseDocTemplate(
        stream,
        pagesize=_SIZES[paper],
        pageTemplates=[
            PageTemplate(
                what,
                [bench] if what == _SHEET else columns,
                onPage=_furnisher(name, what, not plan.reviewed, pages),
            )
        ],
        title=f"{name}, {what}",
        creator="eyefind",
        invariant=1,
    )
    document.build(told)
    return stream.getvalue(), document.page


def _furnisher(
    name: str, what: str, stamped: bool, pages: int
) -> Callable[[Canvas, BaseDocTemplate], None]:
    """Return what draws the stamp and the foot of each page."""

    def furnish(canvas: Canvas, document: BaseDocTemplate) -> None:
        width, height = document.pagesize
        foot = _foot(name, what, document.page, pages)
        foot.wrap(width - 2 * _MARGIN, height)
        foot.drawOn(canvas, _MARGIN, _EDGE)
        if stamped:
            _draw_band(canvas, width, height)

    return furnish


def _foot(name: str, what: str, page: int, pages: int) -> Paragraph:
    line = f"<b>{escape(name)}</b>, {what}, page {page} of {pages}. {words.ADVICE_ONLY}"
    return Paragraph(line, flow.FOOT)


def _foot_height(name: str, width: float) -> float:
    # Wide numbers, so that no real ones wrap into another line.
    height = flow.height_of(_foot(name, _AFTER, 88, 88), width - 2 * _MARGIN)
    return float(_EDGE + height + 1 * mm)


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
