"""The splits of a division as cuts: drawn out of the tissue, with tool and words."""

from collections.abc import Mapping

import numpy as np
import shapely
from shapely import LineString, Polygon

from eyefind.data import Tool
from eyefind.plan import how, words
from eyefind.plan.division import Division, Split
from eyefind.plan.drafts import Draft
from eyefind.plan.guard import Guard

TIGHT_MM = 3.0
"""With less room than this beside a stroke a knife is too broad."""
OUTSIDE_MM = (5.0, 3.0, 2.0, 1.0)
"""A stroke is drawn from this far outside, the farther the better."""


def split_drafts(
    division: Division, letters: Mapping[int, str], guard: Guard, px_per_mm: float
) -> list[Draft]:
    """Return the splits as cuts, in their order.

    Parameters
    ----------
    division : Division
        Pieces and splits.
    letters : mapping of int to str
        ``id`` of each piece's part -> its letter.
    guard : Guard
        The rules.
    px_per_mm : float
        Scale.

    Returns
    -------
    list of Draft
        In the order of work.
    """
    whole = shapely.union_all([part.core for part in division.leaves])
    drafts = []
    for split in division.splits:
        larger_first = sorted(split.sides, key=lambda side: -_size(division, side))
        sides = [
            sorted((letters[id(division.leaves[k])] for k in side), key=_by_length)
            for side in larger_first
        ]
        held = [division.leaves[k] for side in split.sides for k in side]
        stems = [stem.shape for part in held for stem in part.stems]
        through = any(split.path.intersects(stem) for stem in stems)
        tight = split.clearance_px < TIGHT_MM * px_per_mm
        small = split.purpose == words.SPLIT
        tool: Tool = "fine-point snips" if tight and small else "knife"
        path = _from_outside(split, whole, guard, px_per_mm)
        why = words.why_split(sides)
        way = how.split(split.between, sides, through)
        drafts.append(Draft(split.purpose, path, tool, why, way))
    return drafts


def _size(division: Division, side: list[int]) -> float:
    return sum(u.volume_ml for k in side for u in division.leaves[k].units)


def _by_length(name: str) -> tuple[int, str]:
    return len(name), name


def _from_outside(split: Split, whole: Polygon, guard: Guard, ppm: float) -> LineString:
    """Draw a stroke out of the tissue at the ends where the blade enters and leaves."""
    points = shapely.get_coordinates(split.path)
    inner = whole.buffer(-0.5)
    ends = [(0, 1)] if split.purpose == words.SPLIT else [(0, 1), (-1, -2)]
    for end, next_to in ends:
        way = points[end] - points[next_to]
        way = way / np.hypot(*way)
        for out_mm in OUTSIDE_MM:
            tip = LineString([points[end], points[end] + way * out_mm * ppm])
            if guard.allows([tip])[0] and not tip.intersects(inner):
                points[end] = tip.coords[1]
                break
    return LineString(points)
