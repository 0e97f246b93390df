"""The second page: what comes after the cuts, and why the plan is as it is."""

from dataclasses import dataclass

from PIL import Image as PilImage
from reportlab.platypus import Flowable, KeepTogether, Paragraph

from eyefind.data import Piece, Plan, Record, Says
from eyefind.rules import Rules
from eyefind.sheet import flow, step_words, words
from eyefind.sheet.cautions import texts_beside
from eyefind.sheet.front import Moved, close_ups
from eyefind.sheet.picture import BESIDE, Pictures, splits_of
from eyefind.sheet.steps import steps_of


@dataclass(frozen=True)
class Story:
    """The second page of one clump.

    Attributes
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    standing : dict of str to str
        What the grower said last of each flag, by its id.
    rules : Rules
        The rules of the trade in use.
    width : float
        Of a column, in points.
    size : float
        Of the letters, in points.
    tallest : float
        Greatest height of a picture, as a share of `width`.
    """

    record: Record
    plan: Plan
    standing: dict[str, Says]
    rules: Rules
    width: float
    size: float
    tallest: float

    def tell(self, pictures: Pictures, moved: Moved) -> list[Flowable]:
        """Return what flows through the columns.

        Parameters
        ----------
        pictures : Pictures
            All pictures of the clump.
        moved : Moved
            What the first page had no room for; it comes first.

        Returns
        -------
        list of Flowable
            What flows through the columns.
        """
        return [
            *self._moved_steps(pictures, moved),
            *self._drying(),
            *self._pieces(moved),
            *self._shown("The pieces apart", pictures.apart),
            *self._next_clump(),
            *self._why(moved),
            *self._other(pictures),
            *self._remarks(),
        ]

    def _moved_steps(self, pictures: Pictures, moved: Moved) -> list[Flowable]:
        told: list[Flowable] = []
        if moved.steps:
            cuts = self.plan.cuts[-moved.steps :]
            steps = steps_of(cuts, self.record, self.plan, self.size, boxed=True)
            rows = [[KeepTogether(step)] for step in steps]
            told = _listed(self._heading("The last steps"), rows)
        if moved.close_ups and pictures.splits[BESIDE:]:
            rows = [[row] for row in close_ups(pictures.splits[BESIDE:], self.width)]
            told += _listed(self._heading("The splits, close up"), rows)
        return told

    def _drying(self) -> list[Flowable]:
        if not self.plan.cuts:
            return []
        drying = self._body(step_words.drying_words(self.rules))
        return flow.together(
            [self._heading("After the last cut"), drying, self._caution("drying")]
        )

    def _pieces(self, moved: Moved) -> list[Flowable]:
        label = step_words.label_words(self.record)
        rows = [self._piece(piece, moved.pieces) for piece in self.plan.pieces]
        every = self._marked("Write on every label", label, whole=False)
        told = _listed(self._heading("The pieces"), [[every], *rows])
        return [*told, self._caution("pieces")]

    def _piece(self, piece: Piece, moved: bool) -> list[Flowable]:
        texts = [words.size_words(piece, self.record.anatomy), words.note_words(piece)]
        if moved:
            tubers = ", ".join(piece.tubers)
            texts.insert(0, f"{tubers}. {words.eye_sentence(piece)}")
        text = " ".join(words.sentence(text) for text in texts if text)
        return [self._marked(step_words.piece_label_words(piece), text)]

    def _next_clump(self) -> list[Flowable]:
        if not self.plan.cuts:
            return [self._caution("discards")]
        heading = self._heading("Before the next clump")
        box = self._caution("discards", "next_clump")
        return flow.together([heading, box])

    def _why(self, moved: Moved) -> list[Flowable]:
        """Return why each cut is made, and why the plan is as it is."""
        reasons = [
            *step_words.why_words(self.plan),
            *step_words.other_reasons(self.plan),
        ]
        rows = [[self._marked(*reason)] for reason in reasons]
        told = [*words.reasons(self.plan), self.plan.reason]
        told.append(step_words.choice_words(self.plan))
        rows += [[self._body(text)] for text in told if text]
        if moved.pieces:
            named = step_words.discard_words(self.record, self.plan, self.standing)
            off = "; ".join(named) or "nothing is taken off"
            rows.insert(0, [self._marked("Not stored", off)])
        return _listed(self._heading("Why"), rows)

    def _other(self, pictures: Pictures) -> list[Flowable]:
        """Show the plan that is nearly as good."""
        other = self.plan.alternative
        if other is None or pictures.other is None:
            return []
        cuts = [
            self._marked(f"{cut.number}. {words.first_upper(cut.purpose)}", cut.why)
            for cut in splits_of(other)
        ]
        title = "Another way, nearly as good"
        return [*self._shown(title, pictures.other), *cuts]

    def _remarks(self) -> list[Flowable]:
        rows = [[self._body(f"{r.text} {r.advice}")] for r in self.record.remarks]
        return _listed(self._heading("About the photo"), rows) if rows else []

    def _shown(self, title: str, image: PilImage.Image | None) -> list[Flowable]:
        """Return a picture below its title, none if there is none."""
        if image is None:
            return []
        wide = min(self.width, self.tallest * self.width * image.width / image.height)
        return flow.together([self._heading(title), flow.Picture(image, wide)])

    def _heading(self, text: str) -> Flowable:
        return flow.paragraph(text, flow.sized(flow.HEADING, self.size + 2))

    def _body(self, text: str) -> Flowable:
        return flow.paragraph(words.sentence(text), flow.sized(flow.BODY, self.size))

    def _marked(self, head: str, text: str, whole: bool = True) -> Flowable:
        """Return a paragraph behind a bold head; as it is unless a `whole` sentence."""
        text = flow.marked_up(words.sentence(text) if whole else text)
        markup = f"<b>{flow.marked_up(head)}:</b> {text}"
        return Paragraph(markup, flow.sized(flow.BODY, self.size))

    def _caution(self, *steps: str) -> Flowable:
        texts = [text for step in steps for text in texts_beside(step)]
        return flow.caution(texts, self.size)


def _listed(heading: Flowable, rows: list[list[Flowable]]) -> list[Flowable]:
    """Return a list whose heading goes with the first row; no row breaks."""
    groups = [[heading, *rows[0]], *rows[1:]] if rows else []
    return [line for group in groups for line in flow.together(group)]
