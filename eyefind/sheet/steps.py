"""The cuts as numbered steps, each caution beside the step that it belongs to."""

from reportlab.platypus import Flowable

from eyefind.data import Cut, Plan, Record
from eyefind.sheet import flow, step_words, words
from eyefind.sheet.cautions import first_cuts, texts_beside


def steps_of(
    cuts: list[Cut], record: Record, plan: Plan, size: float, boxed: bool
) -> list[list[Flowable]]:
    """Return the steps of cuts that follow each other, each with its cautions.

    Parameters
    ----------
    cuts : list of Cut
        Of `plan`.
    record, plan : Record, Plan
        What is known of the clump, and its plan.
    size : float
        Of the letters, in points.
    boxed : bool
        Whether the cautions stand in boxes below the steps and the numbers in a
        column, or all follows each other.
    """
    beginning = first_cuts(plan)
    told = []
    for cut, before in zip(cuts, [None, *cuts], strict=False):
        told_way = step_words.way_words(cut, before, record)
        keyed = (cut.hold, cut.enter, cut.stop)
        way = " ".join(
            _keyed(text) if text in keyed else flow.marked_up(text) for text in told_way
        )
        if before is None or not step_words.is_like(cut, before):
            head = f"{words.first_upper(cut.purpose)}: {cut.tool}."
            way = f"<b>{flow.marked_up(head)}</b> {way}"
        texts = [text for step in beginning[cut.number] for text in texts_beside(step)]
        below: list[Flowable] = []
        if texts and boxed:
            below = [flow.caution(texts, size, flow.INDENT * size)]
        elif texts:
            way += f" {flow.run_in_caution(texts)}"
        line = flow.step_line(str(cut.number), way, size, hangs=boxed)
        told.append(flow.together([line, *below]))
    return told


def _keyed(text: str) -> str:
    """Return a sentence as markup, its first word bold: hold, enter, stop."""
    first, space, rest = text.partition(" ")
    return f"<b>{flow.marked_up(first)}</b>{space}{flow.marked_up(rest)}"
