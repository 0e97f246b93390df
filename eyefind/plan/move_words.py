"""What is said of a move of a cut by hand: each ends a sentence, "Not moved: ..."."""


def piece(letter: str) -> str:
    """Return the name of a piece."""
    return f"piece {letter}"


def leaves_of(part: str) -> str:
    """Return the name of what leaves of a part."""
    return f"what leaves of {part}"


def _of_cut(number: int | None) -> str:
    """Return who is meant: another cut, or the one that is moved."""
    return "it" if number is None else f"cut {number}"


def stops_inside(cut: int | None) -> str:
    """Say that a cut would not go through once one is moved; None is that one."""
    return f"{_of_cut(cut)} would stop inside what it is to part"


def runs_into(part: str, cut: int | None) -> str:
    """Say that a cut would run into something once one is moved; None is that one."""
    return f"{_of_cut(cut)} would run into {part}"


def cut_in_two(part: str) -> str:
    """Say that a moved cut would divide something that stays whole."""
    return f"it would cut {part} in two"


def hang_together(part: str, other: str) -> str:
    """Say that a moved cut would not part two things any more."""
    return f"{part} and {other} would still hang together"


def would_come_to(thing: str, part: str) -> str:
    """Say that a moved cut would give an eye or a tuber to another piece."""
    return f"{thing} would come to {part}; that is another plan"


def moved_before(cut: int, broken: str) -> str:
    """Say that a cut which was moved before could not stay so: why, in words."""
    return f"cut {cut}, which you moved, could not stay as it is: {broken}"
