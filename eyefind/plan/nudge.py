"""Moving the end of a cut by hand, with the rules asked at once.

The outlines follow the cuts (`eyefind.plan.follow`). It begins from the plan as made
each time, whatever was moved before: so the same cuts give the same outlines.
"""

from dataclasses import replace

import numpy as np
from shapely import LineString

from eyefind.data import Cut, Plan, Points, Record, Says
from eyefind.plan.follow import followed
from eyefind.plan.guard import Guard
from eyefind.plan.move_words import moved_before
from eyefind.plan.parts import Body, read_clump
from eyefind.plan.shapes import polygon
from eyefind.plan.standing import standing_eyes
from eyefind.rules import Rules


def moved_cut(cut: Cut, end: int, place_rc: tuple[float, float]) -> Cut:
    """Return a cut with one of its ends at another place.

    Parameters
    ----------
    cut : Cut
        The cut.
    end : int
        0 for where the blade enters, -1 for where it leaves.
    place_rc : (row, col)
        The new place, px of the photo.

    Returns
    -------
    Cut
        The cut; the points between its ends stay. It is rounded as the record will
        be, so that outlines which follow it are the same whenever they are made.
    """
    path = cut.path_px.copy()
    path[end] = place_rc
    path = np.round(path, 1)
    return replace(cut, path_px=path, moved=True)


def has_cut(plan: Plan, path_px: Points) -> bool:
    """Say whether one of the plan's cuts runs so."""
    return any(_same_way(cut.path_px, path_px) for cut in plan.cuts)


def end_moved(
    made: Plan,
    plan: Plan,
    cut: Cut,
    record: Record,
    words: dict[str, Says],
    rules: Rules,
) -> Plan | str:
    """Return a plan with one more cut moved, unless that breaks a rule.

    Parameters
    ----------
    made : Plan
        As made, with no cut moved.
    plan : Plan
        The same, with the cuts that were moved before.
    cut : Cut
        As it is to be (`moved_cut`).
    record, words, rules
        As for `with_moved`.

    Returns
    -------
    Plan or str
        The plan; or the rule that a cut would break, in words.
    """
    others = [old for old in plan.cuts if old.moved and old.number != cut.number]
    then, refused = with_moved(made, [*others, cut], record, words, rules)
    for number, broken in refused.items():
        return broken if number == cut.number else moved_before(number, broken)
    return then


def with_moved(
    plan: Plan, moved: list[Cut], record: Record, words: dict[str, Says], rules: Rules
) -> tuple[Plan, dict[int, str]]:
    """Return a plan with cuts moved and the outlines following them.

    Parameters
    ----------
    plan : Plan
        As made, with no cut moved.
    moved : list of Cut
        As the grower moved them.
    record : Record
        With flags and anatomy in force.
    words : dict
        Answer by flag id.
    rules : Rules
        The rules of the trade.

    Returns
    -------
    plan : Plan
        Cuts are moved in the order of their numbers, each unless it breaks a rule.
    refused : dict of int to str
        Number of a cut that is as made -> the rule that it would break, in words.
    """
    clump = read_clump(record.anatomy, record.scale)
    eyes = standing_eyes(record.flags, words, record.scale, rules)
    refused = {}
    for cut in sorted(moved, key=lambda cut: cut.number):
        planned = replace(record, plan=plan)
        broken = objection_to(cut, planned, words, rules)
        then = broken or followed(plan, cut, clump, eyes)
        if isinstance(then, str):
            refused[cut.number] = then
        else:
            plan = then
    return plan, refused


def keep_moved(
    plan: Plan, last: Plan | None, record: Record, words: dict[str, Says], rules: Rules
) -> Plan:
    """Take over the cuts that the grower moved, where the plan is the same otherwise.

    Parameters
    ----------
    plan : Plan
        As made anew.
    last : Plan or None
        The one before; None if an answer made it out of date.
    record : Record
        With flags and anatomy in force.
    words : dict
        Answer by flag id.
    rules : Rules
        The rules of the trade.

    Returns
    -------
    Plan
        The plan; a moved cut that would break a rule now is as made anew.
    """
    if last is None or not _alike(plan, last):
        return plan
    moved = [cut for cut in last.cuts if cut.moved]
    return with_moved(plan, moved, record, words, rules)[0]


def _alike(plan: Plan, last: Plan) -> bool:
    """Say whether two plans differ in nothing but the places of moved cuts."""
    return (
        plan.style == last.style
        and [piece.tubers for piece in plan.pieces]
        == [piece.tubers for piece in last.pieces]
        and [gone.belongs_to for gone in plan.discards]
        == [gone.belongs_to for gone in last.discards]
        and len(plan.cuts) == len(last.cuts)
        and all(
            new.purpose == old.purpose
            and (old.moved or _same_way(new.path_px, old.path_px))
            for new, old in zip(plan.cuts, last.cuts, strict=True)
        )
    )


def _same_way(path_px: Points, other_px: Points) -> bool:
    """Say whether two paths are the same; the record keeps tenths of a pixel."""
    same = path_px.shape == other_px.shape
    return same and bool(np.allclose(path_px, other_px, rtol=0, atol=0.1))


def objection_to(
    cut: Cut, record: Record, words: dict[str, Says], rules: Rules
) -> str | None:
    """Say which rule a moved cut breaks.

    Parameters
    ----------
    cut : Cut
        The cut as moved.
    record : Record
        With flags and anatomy in force, and the plan with the cut as it was.
    words : dict
        Answer by flag id.
    rules : Rules
        The rules of the trade.

    Returns
    -------
    str or None
        The reason in words; None if it keeps all rules.
    """
    path = LineString(cut.path_px)
    if not path.length > 0:
        return "its two ends are one place"
    clump = read_clump(record.anatomy, record.scale)
    eyes = standing_eyes(record.flags, words, record.scale, rules)
    margin_px = rules.value("neck_margin_mm") * record.scale.px_per_mm
    guard = Guard(clump.bodies.values(), eyes, margin_px)
    return guard.objection(path, _own(cut, record, clump.bodies))


def _own(cut: Cut, record: Record, bodies: dict[str, Body]) -> set[str]:
    """Return the tubers that the cut may cross: those that it crossed as planned.

    A cut that takes a tuber off may also cross whatever leaves with it.
    """
    plan = record.plan
    planned = [old for old in plan.cuts if old.number == cut.number] if plan else []
    if not planned:
        return set()
    path = LineString(planned[0].path_px)
    own = {body.id for body in bodies.values() if path.intersects(body.shape)}
    gone = [polygon(discard.outline_px) for discard in plan.discards] if plan else []
    for body in bodies.values():
        whole = body.shape.area
        left = sum(shape.intersection(body.shape).area for shape in gone)
        if whole > 0 and left > 0.5 * whole:
            own.add(body.id)
    return own


def stepped(
    place_rc: np.ndarray, down: float, right: float, px_per_mm: float
) -> tuple[float, float]:
    """Return a place moved by so many mm down and to the right in the photo."""
    row, col = place_rc
    return float(row + down * px_per_mm), float(col + right * px_per_mm)
