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
        "Lay the clump on the block and hold it by the crown, never by a tuber.",
        f"Enter across stem {name}, about {left_mm:.0f} mm above the crown.",
        "Cut right through: the top falls away.",
    )


def off(what: str, host: str) -> How:
    """Say how a part is taken off what it hangs on."""
    where = "the crown" if host == "crown" else host
    return How(
        f"Hold {where} down on the block and leave {what} free.",
        f"Enter across {what}, just outside {where}.",
        f"Stop when {what} is free: do not go on into {where}.",
    )


def end(tuber: str) -> How:
    """Say how the far end of a tuber is cut off."""
    return How(
        f"Hold {tuber} by its thick part on the block, so that its neck bears nothing.",
        f"Enter square across the far end of {tuber}.",
        "Cut right through.",
    )


def split(
    between: Sequence[tuple[str, str]],
    sides: Sequence[Sequence[str]],
    through_stem: bool,
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
    """
    middle = "the middle of the crown" + (" and the stub" if through_stem else "")
    gaps = [f"between the necks of {one} and {other}" for one, other in between]
    hold = (
        f"Press {names(sides[0])} on the block with the palm on the crown; "
        f"{names(sides[1])} will come free."
    )
    if not gaps:
        return How(
            hold,
            "Enter at the rim of the crown, between the stems.",
            "Cut right across.",
        )
    enter = f"Enter {gaps[0]}."
    if len(gaps) == 1:
        return How(hold, enter, f"Stop at {middle}, where the earlier cut is.")
    return How(hold, enter, f"Go through {middle} and come out {gaps[1]}.")
