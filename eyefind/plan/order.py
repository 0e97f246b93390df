"""The order of the splits: halve first, then split each half where it balances."""

from collections.abc import Mapping

import numpy as np
import shapely
from shapely import LineString, Polygon

from eyefind.data import Tool
from eyefind.plan import words
from eyefind.plan.choose import Worth
from eyefind.plan.division import Part, Stroke, Tree
from eyefind.plan.drafts import Draft
from eyefind.plan.fan import Star
from eyefind.plan.guard import Guard

TIGHT_MM = 3.0
"""With less room than this beside a stroke a knife is too broad."""
OUTSIDE_MM = (5.0, 3.0, 2.0, 1.0)
"""A stroke is drawn from this far outside, the farther the better."""
BEND = 1.0
"""How much a bend in the halving cut counts against unequal halves."""


def split_star(star: Star, chosen: list[int], leaves: list[Part], worth: Worth) -> Tree:
    """Arrange the strokes of a star as cuts.

    The first cut goes through the hub from one side to the other, along the two
    strokes that halve best and bend least; every later one runs from the outside to
    the hub.

    Parameters
    ----------
    star : Star
        The strokes.
    chosen : list of int
        Those that are made, ascending.
    leaves : list of Part
        The piece after each of them.
    worth : Worth
        Of the pieces.

    Returns
    -------
    Tree
        The splits.
    """
    sizes = np.array([size_of(part) for part in leaves])
    count = len(chosen)
    pairs = [(i, j) for i in range(count) for j in range(i + 1, count)]
    ways = star.entries[chosen] - star.hub_rc
    angles = np.arctan2(ways[:, 1], ways[:, 0])

    def badness(pair: tuple[int, int]) -> float:
        i, j = pair
        turn = float(abs(angles[i] - angles[j])) % (2 * np.pi)
        bend = abs(np.pi - turn) / np.pi
        return _unequal(float(sizes[i:j].sum()), float(sizes.sum())) + BEND * bend

    i, j = min(pairs, key=badness)
    first = _run(star, chosen[i:j], leaves[i:j])
    second = _run(star, chosen[j:] + chosen[:i], leaves[j:] + leaves[:i])
    enter, leave = star.entries[chosen[i]], star.entries[chosen[j]]
    path = LineString([enter, star.hub_rc, leave])
    room = float(star.clearance_px[[chosen[i], chosen[j]]].min())
    stroke = Stroke(path, room, [_beside(leaves, i), _beside(leaves, j)])
    return Tree(leaves, worth, words.HALVE, stroke, (first, second))


def size_of(part: Part) -> float:
    """Return the size of a part for balancing: its volume, or its tubers' number."""
    volume = sum(unit.volume_ml for unit in part.units)
    return volume if volume > 0 else float(len(part.units))


def _run(star: Star, strokes: list[int], leaves: list[Part]) -> Tree:
    """Split neighbouring pieces; the first stroke lies before the first piece."""
    nothing = Worth(0, 0, 0.0)
    if len(leaves) == 1:
        return Tree(leaves, nothing)
    sizes = np.array([size_of(part) for part in leaves])
    inner = range(1, len(leaves))
    at = min(inner, key=lambda k: _unequal(sizes[:k].sum(), sizes.sum()))
    first = _run(star, strokes[:at], leaves[:at])
    second = _run(star, strokes[at:], leaves[at:])
    path = LineString([star.entries[strokes[at]], star.hub_rc])
    room = float(star.clearance_px[strokes[at]])
    stroke = Stroke(path, room, [_beside(leaves, at)])
    return Tree(leaves, nothing, words.SPLIT, stroke, (first, second))


def _beside(leaves: list[Part], number: int) -> tuple[str, str]:
    """Return the tubers on both sides of the stroke before a piece."""
    before, behind = leaves[number - 1], leaves[number]
    return before.units[-1].tubers[0], behind.units[0].tubers[0]


def _unequal(some: float, whole: float) -> float:
    return abs(2 * some / whole - 1) if whole > 0 else 0.0


def split_drafts(
    tree: Tree, letters: Mapping[int, str], guard: Guard, px_per_mm: float
) -> list[Draft]:
    """Return the splits of a tree as cuts, halves first.

    Parameters
    ----------
    tree : Tree
        The division.
    letters : mapping of int to str
        ``id`` of each leaf -> its letter.
    guard : Guard
        The rules.
    px_per_mm : float
        Scale.

    Returns
    -------
    list of Draft
        In the order of work.
    """
    whole = shapely.union_all([part.core for part in tree.leaves])
    drafts = []
    for split in tree.splits():
        if split.stroke is None:
            continue
        sides = [
            sorted((letters[id(part)] for part in half.leaves), key=_by_length)
            for half in split.branches
        ]
        stems = [stem.shape for part in split.leaves for stem in part.stems]
        through = any(split.stroke.path.intersects(stem) for stem in stems)
        tight = split.stroke.clearance_px < TIGHT_MM * px_per_mm
        small = split.purpose == words.SPLIT
        tool: Tool = "fine-point snips" if tight and small else "knife"
        path = _from_outside(split, whole, guard, px_per_mm)
        why = words.why_split(split.stroke.between, sides, through)
        drafts.append(Draft(split.purpose, path, tool, why))
    return drafts


def _by_length(name: str) -> tuple[int, str]:
    return len(name), name


def _from_outside(split: Tree, whole: Polygon, guard: Guard, ppm: float) -> LineString:
    """Draw a stroke out of the tissue at the ends where the blade enters and leaves."""
    assert split.stroke is not None
    points = shapely.get_coordinates(split.stroke.path)
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
