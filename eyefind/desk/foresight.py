"""What an answer would do to the plan, and which flags decide it."""

from collections import Counter
from dataclasses import dataclass

from eyefind.data import Plan, Record, Says, Style
from eyefind.review import in_force, standing
from eyefind.rules import Rules
from eyefind.sides.far import NOTHING, Far, plan_of_all
from eyefind.words import counted


@dataclass(frozen=True, eq=False)
class Foresight:
    """The plan as things stand, and what one flag does to it.

    Attributes
    ----------
    plan : Plan
        From the words that stand.
    effect : str
        What a yes and a no to the flag would make of it, in words; empty when no
        flag was asked about.
    """

    plan: Plan
    effect: str


def foresee(
    record: Record,
    style: Style,
    rules: Rules,
    flag_id: str | None = None,
    most_pieces: int | None = None,
    far: Far = NOTHING,
) -> Foresight:
    """Make the plan, and say what an answer to a flag would do to it.

    Parameters
    ----------
    record : Record
        As it is on disk.
    style : str
        Style of the plan.
    rules : Rules
        The rules of the trade.
    flag_id : str, optional
        The flag that is asked about.
    most_pieces : int, optional
        No more pieces than this.
    far : Far, optional
        What the photos of other sides add.

    Returns
    -------
    Foresight
        Plan and effect.
    """
    shown = in_force(record)
    words = standing(record.flags, record.decisions)
    plan = plan_of_all(shown, words, far, style, rules, most_pieces)
    if flag_id not in {flag.id for flag in shown.flags}:
        return Foresight(plan, "")
    yes, no = (
        plan_of_all(shown, {**words, flag_id: says}, far, style, rules, most_pieces)
        for says in ("confirmed", "rejected")
    )
    return Foresight(plan, effect_words(yes, no))


def deciding_flags(
    record: Record, style: Style, rules: Rules, far: Far = NOTHING
) -> list[str]:
    """Say which flags change the plan, whatever was answered so far.

    A flag decides when a yes and a no to it alone, all others of its photo being open,
    make different plans. What was answered there does not count, so the order of the
    flags is the same when the review is taken up again. What was said on the photos of
    other sides counts: an eye confirmed there leaves less to ask here.

    Parameters
    ----------
    record : Record
        As it is on disk.
    style : str
        Style of the plan.
    rules : Rules
        The rules of the trade.
    far : Far, optional
        What the photos of other sides add.

    Returns
    -------
    list of str
        Ids of flags.
    """
    shown = in_force(record)
    found = [flag.id for flag in shown.flags if flag.origin == "found"]

    def shape(flag: str, says: Says) -> tuple[object, ...]:
        return shape_of(plan_of_all(shown, {flag: says}, far, style, rules))

    return [
        flag for flag in found if shape(flag, "confirmed") != shape(flag, "rejected")
    ]


def shape_of(plan: Plan) -> tuple[object, ...]:
    """Return what makes two plans different to the hands: pieces, cuts, what leaves."""
    return (
        Counter(tuple(sorted(piece.tubers)) for piece in plan.pieces),
        Counter(cut.purpose for cut in plan.cuts),
        frozenset(discard.belongs_to for discard in plan.discards),
    )


def effect_words(yes: Plan, no: Plan) -> str:
    """Say what a yes and what a no makes of the plan.

    Parameters
    ----------
    yes, no : Plan
        The plans.

    Returns
    -------
    str
        One or two lines.
    """
    if shape_of(yes) == shape_of(no):
        return "The plan stays the same either way."
    return f"Yes: {_outcome(yes)}.\nNo: {_outcome(no)}."


def _outcome(plan: Plan) -> str:
    parts = [counted(len(plan.pieces), "piece"), counted(len(plan.cuts), "cut")]
    gone = {discard.belongs_to for discard in plan.discards}
    leaving = sorted(name for name in gone if name.startswith("T"))
    if leaving:
        verb = "leaves" if len(leaving) == 1 else "leave"
        parts.append(f"{', '.join(leaving)} {verb}")
    return ", ".join(parts)
