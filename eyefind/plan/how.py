"""How a hand makes each cut: what to hold, where to enter, where to stop."""

from collections.abc import Sequence
from typing import NamedTuple

from eyefind.plan.words import names


class How(NamedTuple):
    """What to hold, where the blade enters and where it stops, in sentences."""

    hold: str
    enter: str
    stop: str


def stem(name: str, left_mm: float) -> How:
    """Say how a stem is shortened."""
    return How(
        "Hold the crown on the block, never a tuber.",
        f"Enter across {name}, about {left_mm:.0f} mm above the crown.",
        "Cut right through.",
    )


def off(what: str, host: str) -> How:
    """Say how a part is taken off what it hangs on."""
    where = "the crown" if host == "crown" else host
    return How(
        f"Hold {where} on the block, {what} free.",
        f"Enter across {what}, just outside {where}.",
        f"Stop when it is free: spare {where}.",
    )


def end(tuber: str) -> How:
    """Say how the far end of a tuber is cut off."""
    return How(
        f"Hold {tuber} by its thick part, never by its neck.",
        f"Enter square across the far end of {tuber}.",
        "Cut right through.",
    )


def past(way: How, blocked_by: Sequence[str], across: Sequence[str]) -> How:
    """Say of a cut that no tool reaches from the side what lies in its way."""
    if across:
        return way._replace(enter=f"Lift {names(across)} aside first. {way.enter}")
    if not blocked_by:
        return way
    verb = "lies" if len(blocked_by) == 1 else "lie"
    return way._replace(
        enter=f"{way.enter[:-1]}, from above: {names(blocked_by)} {verb} in the way."
    )


def split(
    between: Sequence[tuple[str, str]],
    sides: Sequence[Sequence[str]],
    through_stem: bool,
    outwards: bool = False,
) -> How:
    """Say how a crown is split.

    Parameters
    ----------
    between : sequence of (str, str)
        The tubers beside each place where the blade crosses the rim; none between
        stems.
    sides : two sequences of str
        Letters of the pieces on both sides, the larger side first.
    through_stem : bool
        Whether the stub is split as well.
    outwards : bool
        Whether a split goes from the earlier cut to the rim.
    """
    middle = "the middle" + (" of crown and stub" if through_stem else "")
    gaps = [f"between necks {one} and {other}" for one, other in between]
    verb = "comes" if len(sides[1]) == 1 else "come"
    hold = f"Palm on the crown of {names(sides[0])}; {names(sides[1])} {verb} free."
    if not gaps:
        return How(
            hold,
            "Enter at the rim of the crown, between the stems.",
            "Cut right across.",
        )
    enter = f"Enter {gaps[0]}."
    if outwards:
        return How(
            hold, f"Enter at {middle}, in the earlier cut.", f"Go out {gaps[0]}."
        )
    if len(gaps) == 1:
        return How(hold, enter, f"Stop at {middle}, at the earlier cut.")
    return How(hold, enter, f"Go through {middle}, out {gaps[1]}.")
