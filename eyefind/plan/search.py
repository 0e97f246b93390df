"""How thoroughly places for hubs, strokes and seams are looked for."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Search:
    """How fine the search for cuts is.

    Attributes
    ----------
    hubs : int
        About how many places in a part of the crown are looked at as its hub.
    least_step_mm : float
        They are at least this far apart.
    drawn : int or None
        To how many of them, the most promising, strokes are drawn; None for all.
    entry_step_mm : float
        Spacing of the places on the rim where a blade may enter.
    seams, seams_alone : int
        How many ways to part the stems are followed up, the easiest first, where
        parts are divided further and where they are not. A quarter of them in each
        half, so that many stems do not take for ever.
    """

    hubs: int = 200
    least_step_mm: float = 1.0
    drawn: int | None = 6
    entry_step_mm: float = 1.0
    seams: int = 4
    seams_alone: int = 24


USUAL = Search()
THOROUGH = Search(hubs=800, drawn=None, entry_step_mm=0.5, seams=16)
"""Slow: to see what the usual search misses."""
