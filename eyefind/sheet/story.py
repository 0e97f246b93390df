"""What the sheet tells, in order: picture, key, steps, pieces, discards, remarks."""

from io import BytesIO
from typing import Final

from PIL import Image as PilImage
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Image, Spacer, Table

from eyefind.data import Cut, Piece, Plan, Record, Says
from eyefind.rules import Rules
from eyefind.sheet import flow, words
from eyefind.sheet.cautions import first_cuts, texts_beside
from eyefind.sheet.key import HEIGHT_PT, WIDTH_PT, draw_key
from eyefind.sheet.style import BLACK, PAPER_WIDTH_MM

_KEY_COLUMNS: Final = 3
_KEY_SCALE: Final = 0.85
_PIECE_SHARES: Final = (0.10, 0.22, 0.22, 0.22, 0.24)
"""Shares of the width for the columns of the pieces' table."""


def opening(
    jpeg: bytes,
    record: Record,
    plan: Plan,
    standing: dict[str, Says],
    space: tuple[float, float],
) -> list[Flowable]:
    """Return what the first page holds: name, picture, key, and up to the first cut.

    Parameters
    ----------
    jpeg : bytes
        The annotated picture.
    record : Record
        What is known of the clump.
    plan : Plan
        Its plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    space : (float, float)
        Width and height in points of what a page holds.

    Returns
    -------
    list of Flowable
        The picture takes what the rest leaves, but is at least `PAPER_WIDTH_MM` wide.
    """
    width, height = space
    facts = f"{words.taken_words(record.photo)}. {words.scale_words(record.scale)}."
    above = [
        flow.paragraph(words.clump_name(record.photo), flow.TITLE),
        flow.paragraph(facts, flow.BODY),
    ]
    below = [key(record, standing, width), *_before(plan)]
    step = _step(plan.cuts[0], record, first_cuts(record)) if plan.cuts else []
    image = Image(BytesIO(jpeg))
    aspect = image.imageWidth / image.imageHeight
    # The first cut shares the page if the picture stays large enough beside it.
    for rest in ([*above, *below, *step], [*above, *below]):
        left = height - sum(flow.height_of(part, width) for part in rest)
        if left * aspect >= PAPER_WIDTH_MM * mm:
            break
    wide = min(max(left * aspect, PAPER_WIDTH_MM * mm), width)
    return [*above, Image(BytesIO(jpeg), wide, wide / aspect), *below, *step]


def key(record: Record, standing: dict[str, Says], width: float) -> Flowable:
    """Return the key to the picture as a small table."""
    cells: list[Flowable] = []
    for swatch, meaning in draw_key(record, standing):
        size = (WIDTH_PT * _KEY_SCALE, HEIGHT_PT * _KEY_SCALE)
        cells += [
            Image(BytesIO(jpeg_bytes(swatch)), *size),
            flow.paragraph(meaning, flow.CELL),
        ]
    cells += [Spacer(0, 0)] * (-len(cells) % (2 * _KEY_COLUMNS))
    if not cells:
        return Spacer(0, 0)
    row = 2 * _KEY_COLUMNS
    swatch_width = WIDTH_PT * _KEY_SCALE + 4
    return Table(
        [cells[start : start + row] for start in range(0, len(cells), row)],
        colWidths=[swatch_width, width / _KEY_COLUMNS - swatch_width] * _KEY_COLUMNS,
        style=[
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 4),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        ],
    )


def _before(plan: Plan) -> list[Flowable]:
    """Return what to heed before the first cut."""
    title = "Before you cut" if plan.cuts else "No cuts in this plan"
    warnings = [flow.paragraph(text, flow.BODY) for text in plan.warnings]
    cautions = _beside("start") if plan.cuts else []
    return flow.together([flow.paragraph(title, flow.HEADING), *warnings, *cautions])


def later_cuts(record: Record, plan: Plan, rules: Rules) -> list[Flowable]:
    """Return the cuts after the first one, and what comes after them all."""
    if not plan.cuts:
        return []
    beginning = first_cuts(record)
    story: list[Flowable] = []
    for cut in plan.cuts[1:]:
        story += _step(cut, record, beginning)
    drying = flow.paragraph(words.drying_words(rules), flow.BODY)
    return [
        *story,
        *flow.together([_heading("After the last cut"), drying, *_beside("drying")]),
        *flow.together([_heading("Before the next clump"), *_beside("next_clump")]),
    ]


def _step(cut: Cut, record: Record, beginning: dict[int, list[str]]) -> list[Flowable]:
    lines = [
        flow.step_heading(str(cut.number), words.first_upper(cut.purpose)),
        flow.paragraph(words.cut_words(cut, record), flow.STEP),
        flow.paragraph(cut.why, flow.STEP),
    ]
    texts = [text for step in beginning[cut.number] for text in texts_beside(step)]
    if texts:
        lines.append(flow.caution(texts, flow.STEP_CAUTION))
    return flow.together(lines)


def pieces(record: Record, plan: Plan, width: float) -> list[Flowable]:
    """Return the table of pieces with its caution."""
    widths = [share * width for share in _PIECE_SHARES]
    titles = ["", "Tubers", "Eyes", "Chance of an eye", "Size"]
    header = _row([flow.paragraph(title, flow.STRONG) for title in titles], widths)
    rows = [_piece(piece, record, widths) for piece in plan.pieces]
    groups = [[_heading("Pieces to store"), header], *rows, _beside("pieces")]
    # Nothing stands alone: the head goes with the first row, the caution with the last.
    groups = [groups[0] + groups[1], *groups[2:]]
    groups = [*groups[:-2], groups[-2] + groups[-1]] if len(groups) > 1 else groups
    return [line for group in groups for line in flow.together(group)]


def _piece(piece: Piece, record: Record, widths: list[float]) -> list[Flowable]:
    texts = [
        words.tubers_words(piece),
        words.eyes_words(piece),
        words.chance_words(piece),
        words.size_words(piece, record.anatomy),
    ]
    letter = flow.paragraph(piece.letter, flow.LETTER)
    row = _row([letter, *(flow.paragraph(text, flow.CELL) for text in texts)], widths)
    return [row, flow.paragraph(piece.note, flow.NOTE)] if piece.note else [row]


def _row(cells: list[Flowable], widths: list[float]) -> Table:
    return Table(
        [cells],
        colWidths=widths,
        splitInRow=1,
        style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEABOVE", (0, 0), (-1, -1), 1, flow.pdf_colour(BLACK)),
            ("LEFTPADDING", (0, 0), (-1, -1), 2),
            ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ],
    )


def discards(plan: Plan) -> list[Flowable]:
    """Return what is not stored, and why."""
    groups = [
        [
            flow.paragraph(
                f"{words.discard_label(number)}: {discard.what}", flow.STRONG
            ),
            flow.paragraph(discard.why, flow.BODY),
        ]
        for number, discard in enumerate(plan.discards, 1)
    ]
    groups = groups or [[flow.paragraph("Nothing is taken off.", flow.BODY)]]
    groups[0].insert(0, _heading("Not stored"))
    groups[-1] += _beside("discards")
    return [line for group in groups for line in flow.together(group)]


def remarks(record: Record) -> list[Flowable]:
    """Return what the photo check had to say, with advice."""
    if not record.remarks:
        return []
    texts = [f"{remark.text} {remark.advice}" for remark in record.remarks]
    return [
        _heading("About the photo"),
        *(flow.paragraph(text, flow.BODY) for text in texts),
    ]


def jpeg_bytes(image: PilImage.Image) -> bytes:
    """Return a picture as JPEG, which keeps the PDF small."""
    stream = BytesIO()
    image.save(stream, "JPEG", quality=88, subsampling=0)
    return stream.getvalue()


def _heading(text: str) -> Flowable:
    return flow.paragraph(text, flow.HEADING)


def _beside(step: str) -> list[Flowable]:
    return [flow.caution(texts_beside(step), flow.CAUTION)]
