"""The check list of the store, to be printed and ticked with cold hands."""

from datetime import date
from io import BytesIO

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, SimpleDocTemplate, Spacer, Table, TableStyle

from eyefind.rules import Rules
from eyefind.season.labels import piece_name
from eyefind.season.ledger import Ledger
from eyefind.season.tables import RESULTS, Season
from eyefind.season.winter import band_words, load_advice
from eyefind.sheet import flow
from eyefind.sheet.pages import Paper

MARGIN = 14 * mm
TICK_WIDTH, PIECE_WIDTH = 27 * mm, 46 * mm
SIGN = "☐"


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
        told.append(flow.paragraph(f"Box {box}" if box else "In no box", flow.HEADING))
        told.append(_table(pieces))
    told += [Spacer(1, 6 * mm), flow.paragraph("What to do", flow.HEADING)]
    for result, advice in load_advice().items():
        told.append(flow.paragraph(f"{result}: {advice.do}", flow.BODY))
        told.append(flow.caution([advice.caution], flow.CAUTION))
    document.build(told)
    return stream.getvalue()


def _table(pieces: list[str]) -> Table:
    head = ["", *RESULTS]
    rows = [head, *([piece, *[SIGN] * len(RESULTS)] for piece in pieces)]
    cells = [
        [
            flow.paragraph(str(text), flow.STRONG if k == 0 else flow.CELL)
            for text in row
        ]
        for k, row in enumerate(rows)
    ]
    table = Table(cells, [PIECE_WIDTH, *[TICK_WIDTH] * len(RESULTS)], repeatRows=1)
    table.setStyle(TableStyle([("LINEBELOW", (0, 0), (-1, -1), 0.5, "black")]))
    return table


_STORED = """
    SELECT * FROM piece_seen WHERE season_id = ? AND NOT gone
    ORDER BY box IS NULL, box,
        CASE layer WHEN 'top' THEN 0 WHEN 'middle' THEN 1 ELSE 2 END,
        variety, clump, letter
"""
