"""The page for after the cuts, and why the plan is as it is: not for the bench."""

from collections.abc import Callable
from dataclasses import dataclass

from reportlab.platypus import Flowable, Paragraph

from eyefind.data import Plan, Record
from eyefind.rules import Rules
from eyefind.sheet import flow, step_words, words
from eyefind.sheet.cautions import texts_beside
from eyefind.sheet.picture import Drawn, Pictures, splits_of

APART_ASPECT = 1.3
"""Room for the pieces apart: width over height."""


@dataclass(frozen=True)
class After:
    """What flows through the columns of that page.

    Attributes
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    rules : Rules
        The rules of the trade in use.
    width : float
        Of a column, in points.
    size : float
        Of the letters, in points.
    """

    record: Record
    plan: Plan
    rules: Rules
    width: float
    size: float

    def tell(self, pictures: Pictures) -> list[Flowable]:
        """Return what flows through the columns."""
        name = words.clump_name(self.record.photo)
        return [
            self._heading(f"{name}: after the cuts"),
            *self._drying(),
            *self._pieces(),
            *self._apart(pictures.apart),
            *self._why(),
            *self._other(pictures),
            *self._remarks(),
        ]

    def _drying(self) -> list[Flowable]:
        if not self.plan.cuts:
            return []
        drying = self._body(step_words.drying_words(self.rules))
        return flow.together([self._heading("Dry"), drying, self._caution("drying")])

    def _pieces(self) -> list[Flowable]:
        label = step_words.label_words(self.record)
        every = self._marked("Write on every label", label, whole=False)
        rows: list[list[Flowable]] = [
            [
                self._marked(
                    step_words.piece_label_words(piece),
                    words.piece_words(piece, self.record.anatomy),
                )
            ]
            for piece in self.plan.pieces
        ]
        told = _listed(self._heading("Label and store"), [[every], *rows])
        doubtful = words.has_doubtful(self.plan)
        return [*told, *([self._caution("pieces")] if doubtful else [])]

    def _apart(self, draw: Callable[[float], Drawn] | None) -> list[Flowable]:
        if draw is None:
            return []
        drawn = draw(self.width)
        wide = min(1.0, drawn.image.width / drawn.image.height / APART_ASPECT)
        shown = flow.still(drawn.image, wide * self.width)
        return flow.together([self._heading("The pieces apart"), shown])

    def _why(self) -> list[Flowable]:
        """Return why each cut is made, and why the plan is as it is."""
        reasons = [
            *step_words.why_words(self.plan),
            *step_words.other_reasons(self.plan),
        ]
        rows: list[list[Flowable]] = [[self._marked(*reason)] for reason in reasons]
        told = [*words.reasons(self.plan), self.plan.reason]
        told.append(step_words.choice_words(self.plan))
        rows += [[self._body(text)] for text in told if text]
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
        shown = flow.Picture(pictures.other, self.width, pictures.aspect)
        heading = self._heading("Another way, nearly as good")
        return [*flow.together([heading, shown]), *cuts]

    def _remarks(self) -> list[Flowable]:
        rows = [[self._body(f"{r.text} {r.advice}")] for r in self.record.remarks]
        return _listed(self._heading("About the photo"), rows) if rows else []

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
