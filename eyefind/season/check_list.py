"""The check list of the store, to be printed and ticked with cold hands."""

from datetime import date
from io import BytesIO

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    KeepTogether,
    SimpleDocTemplate,
    Spacer,
    Table,
    TableStyle,
)

from eyefind.rules import Rules
from eyefind.season.labels import piece_name
from eyefind.season.ledger import Ledger
from eyefind.season.tables import RESULTS, Season
from eyefind.season.winter import band_words, load_advice
from eyefind.sheet import flow
from eyefind.sheet.pages import Paper

MARGIN = 14 * mm
PAD = 6.0
LEAST_TABLE = 40 * mm
"""A box's heading with less room below it goes to the next page."""
SIGN = "☐"
TICK = ParagraphStyle("tick", flow.CELL, fontSize=20, leading=22)
"""Large enough for a cold hand."""


def check_list(
    ledger: Ledger, season: Season, day: date, rules: Rules, paper: Paper = "A4"
) -> bytes:
    """Set the check list.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    day : date
        Day of the check.
    rules : Rules
        Temperature and humidity.
    paper : str
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    bytes
        PDF: the band, one line a piece by box with what lies on top first, and what
        to do with what is found.
    """
    flow.set_up()
    stream = BytesIO()
    document = SimpleDocTemplate(
        stream,
        pagesize=A4 if paper == "A4" else LETTER,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN,
        title=f"Check of the store, {day.isoformat()}",
        invariant=1,
    )
    boxes: dict[str, list[str]] = {}
    for row in ledger.ask(_STORED, season.id):
        said = f"{piece_name(row['clump'], row['letter'])} {row['variety'] or ''}"
        boxes.setdefault(row["box"] or "", []).append(said.strip())
    told: list[Flowable] = [
        flow.paragraph(f"Check of the store, {day:%d %B %Y}", flow.TITLE),
        *(flow.paragraph(words, flow.BODY) for words in band_words(rules)),
        flow.paragraph("Temperature: ______ deg C    Humidity: ______ %", flow.HEADING),
    ]
    for box, pieces in boxes.items():
        head = f"Box {box}" if box else "In no box"
        told += [CondPageBreak(LEAST_TABLE), flow.paragraph(head, flow.HEADING)]
        told.append(_table(pieces, document.width))
    told += [
        Spacer(1, 6 * mm),
        CondPageBreak(LEAST_TABLE),
        flow.paragraph("What to do", flow.HEADING),
    ]
    for result, advice in load_advice().items():
        words = flow.paragraph(f"{result}: {advice.do}", flow.BODY)
        caution = flow.caution([advice.caution])
        told.append(KeepTogether([words, caution]))
    document.build(told)
    return stream.getvalue()


def _table(pieces: list[str], width: float) -> Table:
    signs = [flow.paragraph(SIGN, TICK) for _ in RESULTS]
    cells = [
        [flow.paragraph(text, flow.STRONG) for text in ("", *RESULTS)],
        *([flow.paragraph(piece, flow.CELL), *signs] for piece in pieces),
    ]
    font, size = flow.STRONG.fontName, flow.STRONG.fontSize
    ticks = [stringWidth(result, font, size) + 2 * PAD + 1 for result in RESULTS]
    table = Table(cells, [width - sum(ticks) - 2 * PAD, *ticks], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LINEBELOW", (0, 0), (-1, -1), 0.5, "black"),
                ("LEFTPADDING", (0, 0), (-1, -1), PAD),
                ("RIGHTPADDING", (0, 0), (-1, -1), PAD),
            ]
        )
    )
    return table


_STORED = """
    SELECT * FROM piece_seen WHERE season_id = ? AND NOT gone
    ORDER BY box IS NULL, box,
        CASE layer WHEN 'top' THEN 0 WHEN 'middle' THEN 1 ELSE 2 END,
        variety, clump, letter
"""
