"""What the pages behind the first tell: every step, piece and doubt in full."""

from dataclasses import dataclass
from itertools import groupby
from typing import Final

from PIL import Image as PilImage
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from eyefind.data import Cut, Piece, Plan, Record, Says
from eyefind.rules import Rules
from eyefind.sheet import flow, step_words, words
from eyefind.sheet.cautions import first_cuts, texts_beside
from eyefind.sheet.key import HEIGHT_PT, WIDTH_PT, draw_key
from eyefind.sheet.picture import Pictures, splits_of
from eyefind.sheet.style import BLACK, PAPER_WIDTH_MM

_KEY_COLUMNS: Final = 3
_KEY_SCALE: Final = 0.85
_PIECE_SHARES: Final = (0.10, 0.22, 0.22, 0.22, 0.24)
"""Shares of the width for the columns of the pieces' table."""


@dataclass(frozen=True)
class Story:
    """One clump's sheet.

    Attributes
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    rules : Rules
        The rules of the trade in use.
    width : float
        Of the text, in points.
    """

    record: Record
    plan: Plan
    standing: dict[str, Says]
    rules: Rules
    width: float

    def tell(self, pictures: Pictures) -> list[Flowable]:
        """Return all pages but the first.

        Parameters
        ----------
        pictures : Pictures
            All pictures of the clump.

        Returns
        -------
        list of Flowable
            What flows over the pages.
        """
        return [
            *self._before(),
            *(line for step in self._steps() for line in step),
            *_shown("The crown, closer", pictures.crown),
            self._key(),
            *self._afterwards(),
            *self._pieces(),
            *_shown("After the cuts", pictures.apart),
            *self._discards(),
            *self._choices(),
            *self._other(pictures),
            *self._remarks(),
        ]

    def _key(self) -> Flowable:
        cells: list[Flowable] = []
        for swatch, meaning in draw_key(self.record, self.standing):
            size = (WIDTH_PT * _KEY_SCALE, HEIGHT_PT * _KEY_SCALE)
            cells.append(flow.picture(swatch, size[0]))
            cells.append(flow.paragraph(meaning, flow.CELL))
        if not cells:
            return Spacer(0, 0)
        row = 2 * _KEY_COLUMNS
        cells += [Spacer(0, 0)] * (-len(cells) % row)
        swatch_width = WIDTH_PT * _KEY_SCALE + 4
        word_width = self.width / _KEY_COLUMNS - swatch_width
        return Table(
            [cells[start : start + row] for start in range(0, len(cells), row)],
            colWidths=[swatch_width, word_width] * _KEY_COLUMNS,
            style=[
                ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ],
        )

    def _before(self) -> list[Flowable]:
        """Return what to heed before the first cut."""
        title = "Before you cut" if self.plan.cuts else "No cuts in this plan"
        warnings = [_body(text) for text in self.plan.warnings]
        start = _beside("start") if self.plan.cuts else []
        return [
            *flow.together([_heading(title), *(warnings or start)[:1]]),
            *warnings[1:],
            *(start if warnings else []),
        ]

    def _steps(self) -> list[list[Flowable]]:
        """Return the cuts in their order; those in a row that are alike make one."""
        beginning = first_cuts(self.plan)
        steps = []
        for cuts in step_words.alike_in_a_row(self.plan.cuts, self.record):
            texts = [
                text
                for cut in cuts
                for step in beginning[cut.number]
                for text in texts_beside(step)
            ]
            caution = [flow.caution(texts, flow.STEP_CAUTION)] if texts else []
            lines = self._one(cuts[0]) if len(cuts) == 1 else self._several(cuts)
            steps.append(flow.together([*lines, *caution]))
        return steps

    def _one(self, cut: Cut) -> list[Flowable]:
        return [
            flow.step_heading(str(cut.number), words.first_upper(cut.purpose)),
            flow.paragraph(step_words.cut_words([cut], self.record), flow.STEP),
            *(flow.paragraph(text, flow.STEP) for text in step_words.how(cut)),
            flow.paragraph(words.sentence(cut.why), flow.STEP),
        ]

    def _several(self, cuts: list[Cut]) -> list[Flowable]:
        whats, reason = step_words.shared_reason([cut.why for cut in cuts])
        what_to_do = step_words.cut_words(cuts, self.record)
        return [
            flow.paragraph(words.first_upper(cuts[0].purpose), flow.STEPS_HEAD),
            flow.paragraph(f"{what_to_do} {words.sentence(reason)}", flow.STEP),
            *(
                flow.step_heading(str(cut.number), words.sentence(what), flow.STEP_LINE)
                for cut, what in zip(cuts, whats, strict=True)
            ),
        ]

    def _afterwards(self) -> list[Flowable]:
        if not self.plan.cuts:
            return []
        drying = [
            _heading("After the last cut"),
            _body(step_words.drying_words(self.rules)),
        ]
        labels = [
            _heading("Write on the labels"),
            *(
                flow.paragraph(step_words.label_words(self.record, piece), flow.CELL)
                for piece in self.plan.pieces
            ),
        ]
        next_clump = [_heading("Before the next clump"), *_beside("next_clump")]
        return [
            *flow.together(drying + _beside("drying")),
            *flow.together(labels[:2]),
            *labels[2:],
            *flow.together(next_clump),
        ]

    def _pieces(self) -> list[Flowable]:
        titles = ["", "Tubers", "Eyes", "Chance of an eye", "Size"]
        header = self._row([flow.paragraph(title, flow.STRONG) for title in titles])
        rows = [self._piece(piece) for piece in self.plan.pieces]
        return _listed([_heading("Pieces to store"), header], rows, _beside("pieces"))

    def _piece(self, piece: Piece) -> list[Flowable]:
        texts = [
            words.tubers_words(piece),
            words.eyes_words(piece),
            words.chance_words(piece),
            words.size_words(piece, self.record.anatomy),
        ]
        letter = flow.paragraph(piece.letter, flow.LETTER)
        row = self._row([letter, *(flow.paragraph(text, flow.CELL) for text in texts)])
        note = flow.paragraph(words.sentence(piece.note), flow.NOTE)
        return [row, note] if piece.note else [row]

    def _row(self, cells: list[Flowable]) -> Table:
        return Table(
            [cells],
            colWidths=[share * self.width for share in _PIECE_SHARES],
            splitInRow=1,
            style=[
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LINEABOVE", (0, 0), (-1, -1), 1, flow.pdf_colour(BLACK)),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 4),
            ],
        )

    def _discards(self) -> list[Flowable]:
        """Return what is not stored, with its cut, each reason told once."""
        named = step_words.discard_words(self.record, self.plan, self.standing)
        rows = []
        for why, alike in groupby(named, key=lambda name: name[1]):
            lines = [flow.paragraph(what, flow.STRONG) for what, _ in alike]
            rows.append([*lines, _body(why)])
        rows = rows or [[_body("Nothing is taken off")]]
        return _listed([_heading("Not stored")], rows, _beside("discards"))

    def _choices(self) -> list[Flowable]:
        """Return why this plan was picked, and what else could be."""
        rows = [[_body(text)] for text in step_words.choice_words(self.plan)]
        head = [_heading("Why this plan"), _body(self.plan.reason)]
        return _listed(head, rows, []) if self.plan.reason else []

    def _other(self, pictures: Pictures) -> list[Flowable]:
        """Show the plan that is nearly as good."""
        other = self.plan.alternative
        if other is None or pictures.other is None:
            return []
        cuts = [
            _body(f"{cut.number}. {words.first_upper(cut.purpose)}: {cut.why}")
            for cut in splits_of(other)
        ]
        return [*_shown("Another way, nearly as good", pictures.other), *cuts]

    def _remarks(self) -> list[Flowable]:
        rows = [[_body(f"{r.text} {r.advice}")] for r in self.record.remarks]
        return _listed([_heading("About the photo")], rows, []) if rows else []


def _shown(title: str, image: PilImage.Image | None) -> list[Flowable]:
    """Return a picture below its title, none if there is none."""
    if image is None:
        return []
    wide = PAPER_WIDTH_MM * mm
    return flow.together([_heading(title), flow.picture(image, wide)])


def _heading(text: str) -> Flowable:
    return flow.paragraph(text, flow.HEADING)


def _body(text: str) -> Flowable:
    return flow.paragraph(words.sentence(text), flow.BODY)


def _beside(step: str) -> list[Flowable]:
    return [flow.caution(texts_beside(step), flow.CAUTION)]


def _listed(
    head: list[Flowable], rows: list[list[Flowable]], foot: list[Flowable]
) -> list[Flowable]:
    """Return a list whose head goes with the first row and its foot with the last."""
    groups = [list(row) for row in rows] or [[]]
    groups[0] = head + groups[0]
    groups[-1] = groups[-1] + foot
    return [line for group in groups for line in flow.together(group)]
