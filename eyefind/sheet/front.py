"""The first page: what the grower needs at the bench, to be pinned above it."""

from dataclasses import dataclass
from html import escape
from typing import Final

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer, Table

from eyefind.data import Cut, Piece, Plan, Record, Says
from eyefind.sheet import flow, step_words, words
from eyefind.sheet.cautions import first_cuts, short_beside
from eyefind.sheet.code import SquareCode, code_text
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.picture import CLOSE_UPS, Pictures
from eyefind.sheet.style import BLACK, BODY_PT, FOOT_PT, PAPER_WIDTH_MM

CODE_SIDE: Final = 27 * mm
GAP: Final = 2 * mm
"""Between close-ups."""
SETTINGS: Final = (
    (BODY_PT, "all", 1.0, 1.0),
    (BODY_PT, "way", 1.0, 1.0),
    (FOOT_PT, "way", 1.0, 1.0),
    (FOOT_PT, "way", 0.75, 1.0),
    (FOOT_PT, "head", 0.75, 1.0),
    (FOOT_PT, "head", 0.6, 0.9),
    (FOOT_PT, "head", 0.5, 0.8),
)
"""Size of the text, what is told of each cut, size of the close-ups and least size of
the picture, as shares of what its letters are made for: the first that fits is
taken."""


@dataclass(frozen=True)
class Front:
    """The first page of one clump.

    Attributes
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    record_name : str
        Name of the record's file.
    width, height : float
        What a page holds, in points.
    """

    record: Record
    plan: Plan
    standing: dict[str, Says]
    record_name: str
    width: float
    height: float

    def tell(self, pictures: Pictures) -> list[Flowable]:
        """Return what the page holds; the picture takes what the rest leaves.

        Parameters
        ----------
        pictures : Pictures
            All pictures of the clump.

        Returns
        -------
        list of Flowable
            On one page where it fits; with many cuts it flows on.
        """
        above = [self._head()]
        image = pictures.clump
        full = PAPER_WIDTH_MM * mm * image.height / image.width
        for size, telling, close, share in SETTINGS:
            least = share * full
            below = [
                *self._close_ups(pictures, close),
                *self._below(size, telling),
            ]
            left = self.height - sum(
                flow.height_of(part, self.width) for part in above + below
            )
            if left >= least:
                break
        tall = max(left, least)
        width = min(tall * image.width / image.height, self.width)
        return [*above, flow.picture(image, width), *below]

    def _head(self) -> Flowable:
        photo, scale = self.record.photo, self.record.scale
        about = f"{words.taken_words(photo)}. {words.scale_words(scale)}."
        lines = [
            flow.paragraph(words.clump_name(photo), flow.TITLE),
            flow.paragraph(about, flow.CELL),
        ]
        code = SquareCode(code_text(photo, self.record_name), CODE_SIDE)
        wide = [self.width - CODE_SIDE, CODE_SIDE]
        return Table([[lines, code]], colWidths=wide, style=flow.BARE)

    def _below(self, size: float, telling: str) -> list[Flowable]:
        limits = "; ".join(words.limits(self.record, self.plan))
        return [
            *self._steps(size, telling),
            Spacer(0, GAP),
            *self._pieces(size),
            self._line("Not stored", self._not_stored(), size),
            self._line("Limits", limits, size),
        ]

    def _close_ups(self, pictures: Pictures, share: float) -> list[Flowable]:
        side = share * (self.width - (CLOSE_UPS - 1) * GAP) / CLOSE_UPS
        drawn: list[Flowable] = [flow.picture(image, side) for image in pictures.splits]
        return [
            Table(
                [drawn[start : start + CLOSE_UPS]],
                colWidths=[side + GAP] * len(drawn[start : start + CLOSE_UPS]),
                hAlign="LEFT",
                style=flow.BARE,
            )
            for start in range(0, len(drawn), CLOSE_UPS)
        ]

    def _steps(self, size: float, telling: str) -> list[Flowable]:
        beginning = first_cuts(self.plan)
        start = short_beside("start") if self.plan.cuts else "No cuts in this plan."
        steps = [Paragraph(_warned("", start), flow.sized(flow.CELL, size))]
        for cuts in step_words.alike_in_a_row(self.plan.cuts, self.record):
            begun = [step for cut in cuts for step in beginning[cut.number]]
            short = " ".join(map(short_beside, begun)).strip()
            text = _warned(self._cut(cuts, telling), short)
            steps.append(flow.step_line(str(cuts[0].number), text, size))
        return steps

    def _cut(self, cuts: list[Cut], telling: str) -> str:
        first, last = cuts[0], cuts[-1]
        head = words.first_upper(first.purpose)
        if len(cuts) > 1:
            head = f"to {last.number}: {first.purpose}, {len(cuts)} times"
        head = f"<b>{_set(head)}</b>: {_set(first.tool)}."
        if len(cuts) > 1:
            return f"{head} Cut across at each arrow."
        told = [first.hold, first.enter, first.stop] if telling == "all" else []
        if telling == "way":
            told = [first.enter, first.stop]
        if told and not any(told):
            told = [step_words.cut_words([first], self.record)]
        return " ".join([head, *(_set(text) for text in told if text)])

    def _pieces(self, size: float) -> list[Flowable]:
        style = flow.sized(flow.CELL, size)
        cells = [Paragraph(self._piece(piece), style) for piece in self.plan.pieces]
        across = min(2, len(cells))
        rows = [[*cells[k : k + 2], ""][:across] for k in range(0, len(cells), 2)]
        lined = [("LINEABOVE", (0, 0), (-1, 0), 1, flow.pdf_colour(BLACK))]
        wide = [self.width / max(across, 1)] * across
        return [
            Table([row], colWidths=wide, style=[*flow.BARE, *lined], splitInRow=1)
            for row in rows
        ]

    def _piece(self, piece: Piece) -> str:
        text = f"{', '.join(piece.tubers)}: {words.eyes_words(piece)}, "
        text += words.chance_words(piece)
        if not piece.confirmed_eyes:
            text += "; keep it, look again in spring"
        return f"<b>{_set(piece.letter)}</b>&nbsp; {_set(text)}"

    def _not_stored(self) -> str:
        cuts = what_leaves(self.record).cuts
        named = [
            discard.what + (f" (cut {cuts[number]})" if number in cuts else "")
            for number, discard in enumerate(self.plan.discards)
        ]
        return ", ".join(named) or "nothing is taken off"

    def _line(self, head: str, text: str, size: float) -> Flowable:
        text = f"<b>{head}:</b> {_set(words.sentence(text))}"
        return Paragraph(text, flow.sized(flow.BODY, size))


def _set(text: str) -> str:
    return escape(flow.printable(text))


def _warned(text: str, caution: str) -> str:
    return f"{text} <b>{flow.SIGN}</b> {_set(caution)}" if caution else text
