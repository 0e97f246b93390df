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
from eyefind.plan.reach import Reach, Shapes, Way

OUTSIDE_MM = (5.0, 3.0, 2.0, 1.0)
"""A stroke is drawn from this far outside, the farther the better."""


def split_drafts(
    division: Division,
    letters: Mapping[int, str],
    guard: Guard,
    reach: Reach,
    px_per_mm: float,
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
    reach : Reach
        Finds the ways of the tools.
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
        # What was split off before lies elsewhere.
        there = {unit.tubers[0]: unit.shape for part in held for unit in part.units}
        path = _from_outside(split, whole, guard, px_per_mm)
        tool, way = _way(split, path, there, reach)
        turned = way.path is not path
        outwards = turned and split.purpose == words.SPLIT
        between = split.between[::-1] if turned else split.between
        told = how.split(between, sides, through, outwards)
        told = how.past(told, way.blocked_by, ())
        why = words.why_split(sides)
        drafts.append(Draft(split.purpose, way.path, tool, why, told))
    return drafts


def _way(
    split: Split, path: LineString, there: Shapes, reach: Reach
) -> tuple[Tool, Way]:
    """Return the tool for a split and its way.

    A halving cut has two ways in. A split goes in from outside; where that way is not
    free it may go out from the middle, where the earlier cut is open.
    """
    small = split.purpose == words.SPLIT
    tight = split.clearance_px < reach.knife_room_px
    tools: list[Tool] = ["knife"]
    if small and tight and path.length <= reach.sizes["fine-point snips"].long:
        tools = ["fine-point snips", "knife"]
    ends = [path, path.reverse()]
    ways = [(tool, reach.way_in(end, tool, there)) for end in ends for tool in tools]
    return min(ways, key=lambda found: len(found[1].blocked_by) > 0)


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
