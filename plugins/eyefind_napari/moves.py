"""Cuts that the grower moves, with the rules asked at once."""

from eyefind.plan.nudge import end_moved, moved_cut
from eyefind_napari.control import Control


def move_end(
    control: Control, number: int, end: int, place_rc: tuple[float, float]
) -> str | None:
    """Move one end of a cut unless that breaks a rule.

    Parameters
    ----------
    control : Control
        Shows the plan.
    number : int
        The cut.
    end : int
        0 where the blade enters, -1 where it leaves.
    place_rc : (row, col)
        The new place.

    Returns
    -------
    str or None
        The rule that it would break, in words; None if it was moved.
    """
    session, plan, made = control.session, control.plan, control.made
    if session is None or plan is None or made is None:
        return "there is no plan yet"
    cut = moved_cut(plan.cuts[number - 1], end, place_rc)
    then = end_moved(made, plan, cut, session.record, session.words, control.job.rules)
    if isinstance(then, str):
        return then
    control.put_plan(then)
    return None
