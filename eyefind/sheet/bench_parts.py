"""What the sheet for the bench is made of."""

from dataclasses import dataclass
from typing import Final

from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from eyefind.data import Cut, Piece, Plan, Record, Says
from eyefind.sheet import flow, step_words, words
from eyefind.sheet.cautions import texts_beside
from eyefind.sheet.key import WIDTH_PT, draw_key
from eyefind.sheet.steps import steps_of
from eyefind.sheet.style import BLACK, FOOT_PT

KEY_WIDTH: Final = 100.0
"""A mark with what it means takes so many points."""
KEY_SCALE: Final = 0.5
SHARES: Final = (0.06, 0.35, 0.31, 0.28)
"""Shares of the width for the columns of the pieces."""
LETTER: Final = 0.11
"""Share of the width for the letter where a piece is told in one line."""
ROOMY: Final = 400.0
"""From this width on, points, the pieces have four columns."""

Block = list[Flowable]
"""Parts that stay together."""


@dataclass(frozen=True)
class Parts:
    """The parts of one clump's sheet.

    Attributes
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    """

    record: Record
    plan: Plan
    standing: dict[str, Says]

    def key(self, width: float) -> Block:
        """Return rows of marks with what they mean."""
        swatch = WIDTH_PT * KEY_SCALE
        small = flow.sized(flow.CELL, FOOT_PT)
        cells: list[Flowable] = []
        for image, meaning in draw_key(self.record, self.standing):
            cells += [flow.still(image, swatch), flow.paragraph(meaning, small)]
        across = min(max(1, int(width / KEY_WIDTH)), max(1, len(cells) // 2))
        cells += [Spacer(0, 0)] * (-len(cells) % (2 * across))
        rows = [cells[k : k + 2 * across] for k in range(0, len(cells), 2 * across)]
        wide = [swatch + 4, width / across - swatch - 4] * across
        style = [*flow.CLOSE, ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]
        return [Table([row], wide, style=style) for row in rows]

    def before(self, size: float) -> Block:
        """Return what to heed before the first cut."""
        limits = words.limits(self.record, self.plan)
        if not self.plan.cuts:
            return [self._line("No cuts in this plan", " ".join(limits), size)]
        texts = [" ".join(limits), *texts_beside("start")]
        return [flow.caution(texts, size, head="Before you cut:")]

    def steps(self, cuts: list[Cut], size: float, boxed: bool) -> list[Block]:
        """Return the steps, each with its cautions."""
        return steps_of(cuts, self.record, self.plan, size, boxed)

    def moved(self, numbers: list[str], size: float) -> Block:
        """Say which steps stand on a second page."""
        several = "s" * (len(numbers) > 1)
        which = f"step{several} {words.span_words(numbers)}, with the cautions"
        return [self._line("Not on this page", f"{which}: see page 2", size)]

    def pieces(self, size: float, width: float) -> Block:
        """Return the pieces, each with its tubers and eyes."""
        strong = flow.sized(flow.STRONG, size)
        if width < ROOMY:
            rows = [self._piece(piece, size, width) for piece in self.plan.pieces]
            head: Flowable = Paragraph("Pieces", strong)
        else:
            texts = ["", "Tubers", "Eyes", "Has an eye"]
            cells: list[Flowable] = [Paragraph(text, strong) for text in texts]
            head = _row(cells, width, SHARES, lined=False)
            rows = [self._wide_piece(piece, size, width) for piece in self.plan.pieces]
        told = [Spacer(0, 3), *flow.together([head, *rows[:1]]), *rows[1:]]
        if words.has_doubtful(self.plan):
            told.append(flow.caution(texts_beside("pieces"), size))
        return told

    def _wide_piece(self, piece: Piece, size: float, width: float) -> Flowable:
        texts = [
            ", ".join(piece.tubers),
            words.eyes_words(piece),
            words.chance_words(piece),
        ]
        style = flow.sized(flow.CELL, size)
        cells = [flow.paragraph(text, style) for text in texts]
        return _row([_letter(piece, size), *cells], width, SHARES)

    def _piece(self, piece: Piece, size: float, width: float) -> Flowable:
        text = f"{', '.join(piece.tubers)}: {words.eyes_in_short(piece)}"
        told = flow.paragraph(text, flow.sized(flow.CELL, size))
        return _row([_letter(piece, size), told], width, (LETTER, 1 - LETTER))

    def not_stored(self, size: float) -> Block:
        """Return what is not stored, and what no photo tells."""
        named = step_words.discard_words(self.record, self.plan, self.standing)
        text = "; ".join(named) or "nothing is taken off"
        caution = flow.caution(texts_beside("discards"), size)
        return [self._line("Not stored", text, size), caution]

    def last(self, size: float) -> Block:
        """Return what to do before the next clump."""
        if not self.plan.cuts:
            return []
        texts = texts_beside("next_clump")
        return [flow.caution(texts, size, head="Before the next clump:")]

    def _line(self, head: str, text: str, size: float) -> Flowable:
        text = f"<b>{head}:</b> {flow.marked_up(words.sentence(text))}"
        return Paragraph(text, flow.sized(flow.BODY, size))


def _letter(piece: Piece, size: float) -> Flowable:
    markup = f"<b>{flow.marked_up(piece.letter)}</b>"
    return Paragraph(markup, flow.sized(flow.CELL, size + 2))


def _row(
    cells: list[Flowable], width: float, shares: tuple[float, ...], lined: bool = True
) -> Table:
    line = ("LINEABOVE", (0, 0), (-1, -1), 1, flow.pdf_colour(BLACK))
    wide = [share * width for share in shares]
    style = [*flow.CLOSE, *([line] if lined else [])]
    return Table([cells], colWidths=wide, style=style, splitInRow=1)
