"""Parting two stems: straight strokes right across the crown between them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from eyefind.data import Points
from eyefind.plan.costs import Costs
from eyefind.plan.division import Part, Seam
from eyefind.plan.fan import OUTSIDE_MM, entry_points
from eyefind.plan.guard import Guard
from eyefind.plan.parts import StemPart
from eyefind.plan.shapes import arc, clockwise_ring, lengthened, polygon

END_STEP_MM = 2.5
"""Spacing of the ends of the strokes that are tried."""
STRAY_COST = 0.05
"""What it costs, in plants, to part a tuber from the stem nearest to it."""


@dataclass(frozen=True, eq=False)
class Crossing:
    """A stroke across the crown and the two halves it makes."""

    seam: Seam
    halves: tuple[Part, Part]


def crossings(part: Part, guard: Guard, most: int, costs: Costs) -> list[Crossing]:
    """Return strokes from rim to rim that part stems, the cheapest of each kind.

    Parameters
    ----------
    part : Part
        With at least two stems and two units.
    guard : Guard
        The rules.
    most : int
        How many are wanted.
    costs : Costs
        What strokes cost.

    Returns
    -------
    list of Crossing
        Each parts units, eyes and stems in another way; both halves of each have a
        stem and a tuber. Which ones are found depends on shapes alone, never on the
        eyes' chances.
    """
    px_per_mm = costs.px_per_mm
    stems = [stem.shape.buffer(guard.margin_px) for stem in part.stems]
    blocked = shapely.union_all([guard.blocked(part.core, px_per_mm), *stems])
    shapely.prepare(blocked)
    ends, along = entry_points(part, blocked, END_STEP_MM * px_per_mm)
    first, second, strays = _worth_a_look(part, ends, along)
    lines = shapely.linestrings(np.stack([ends[first], ends[second]], axis=1))
    roomy = part.core.buffer(0.5)
    shapely.prepare(roomy)
    free = ~shapely.intersects(blocked, lines) & shapely.covers(roomy, lines)
    lines, first, second, strays = (x[free] for x in (lines, first, second, strays))
    clearance = shapely.distance(lines, blocked)
    # Cut right across: twice from the rim to the middle.
    cost = 2 * costs.of_strokes(shapely.length(lines) / 2, clearance)
    cost = cost + STRAY_COST * strays
    kinds = _kinds(part, ends, along, first, second)
    found: dict[bytes, Crossing] = {}
    for k in np.argsort(cost, kind="stable"):
        if len(found) >= most:
            break
        if kinds[k] in found:
            continue
        seam = Seam(lines[k], float(clearance[k]), float(cost[k]))
        halves = _halves(part, (along[first[k]], along[second[k]]), seam)
        outside = lengthened(lines[k], OUTSIDE_MM * px_per_mm)
        if halves is not None and guard.allows([outside])[0]:
            found[kinds[k]] = Crossing(seam, halves)
    return list(found.values())


def _worth_a_look(
    part: Part, ends: Points, along: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return the pairs of ends with tubers and stems on both sides.

    And for each how many tubers it parts from the stem nearest to them.
    """
    first, second = np.triu_indices(len(ends), 1)
    ring = part.core.exterior
    rim = np.array([ring.project(unit.place) for unit in part.units])
    near = (along[first, None] < rim) & (rim <= along[second, None])
    both = near.any(axis=1) & ~near.all(axis=1)
    first, second = first[both], second[both]
    units = shapely.get_coordinates([unit.place for unit in part.units])
    stems = shapely.get_coordinates([stem.shape.centroid for stem in part.stems])
    stem_side = _on_left(ends[first], ends[second], stems)
    unit_side = _on_left(ends[first], ends[second], units)
    nearest = np.hypot(*(units[:, None] - stems[None]).transpose(2, 0, 1)).argmin(
        axis=1
    )
    strays = (unit_side != stem_side[:, nearest]).sum(axis=1)
    between = stem_side.any(axis=1) & ~stem_side.all(axis=1)
    return first[between], second[between], strays[between]


def _kinds(
    part: Part,
    ends: Points,
    along: NDArray[np.float64],
    first: NDArray[np.intp],
    second: NDArray[np.intp],
) -> list[bytes]:
    """Return for each pair of ends what lies on which side: tubers, stems and eyes."""
    ring = part.core.exterior
    rim = np.array([ring.project(unit.place) for unit in part.units])
    near = (along[first, None] < rim) & (rim <= along[second, None])
    inner = [stem.shape.centroid for stem in part.stems]
    inner += [eye.place for eye in part.eyes if eye.id not in part.rider]
    left = _on_left(ends[first], ends[second], shapely.get_coordinates(inner))
    return [row.tobytes() for row in np.concatenate([near, left], axis=1)]


def _on_left(start: Points, end: Points, points: Points) -> NDArray[np.bool_]:
    """Say for each line and each point on which side it lies, (lines, points)."""
    way = (end - start)[:, None]
    off = points[None] - start[:, None]
    left: NDArray[np.bool_] = way[..., 0] * off[..., 1] > way[..., 1] * off[..., 0]
    return left


def _halves(
    part: Part, along: tuple[float, float], seam: Seam
) -> tuple[Part, Part] | None:
    """Cut a part in two; None unless both halves have a stem and a tuber."""
    ring = part.core.exterior
    core = clockwise_ring(polygon(arc(ring, along[0], along[1])))
    other = clockwise_ring(polygon(arc(ring, along[1], along[0])))
    if core.is_empty or other.is_empty:
        return None
    places = [ring.project(unit.place) for unit in part.units]
    near = [along[0] < place <= along[1] for place in places]
    if all(near) or not any(near):
        return None
    on_near = [_mostly_on(stem, core, part.core) for stem in part.stems]
    if all(on_near) or not any(on_near):
        return None
    first = _half(part, core, near, on_near, seam)
    second = _half(part, other, [not x for x in near], [not x for x in on_near], seam)
    # An eye goes with the tuber that carries it, else with its bit of crown.
    for eye in part.eyes:
        carrier = part.rider.get(eye.id)
        if carrier is not None:
            home = first if carrier in first.units else second
        else:
            to_first = first.core.distance(eye.place) <= second.core.distance(eye.place)
            home = first if to_first else second
        home.eyes.append(eye)
    return first, second


def _half(
    part: Part,
    core: Polygon,
    units: Sequence[bool],
    stems: Sequence[bool],
    seam: Seam,
) -> Part:
    middles = [(old, old.path.interpolate(0.5, normalized=True)) for old in part.seams]
    return Part(
        core,
        [unit for unit, here in zip(part.units, units, strict=True) if here],
        [],
        [stem for stem, here in zip(part.stems, stems, strict=True) if here],
        part.rider,
        [*(old for old, middle in middles if core.dwithin(middle, 1.0)), seam],
    )


def _mostly_on(stem: StemPart, core: Polygon, whole: Polygon) -> bool:
    shared = stem.shape.intersection(whole).area
    return bool(stem.shape.intersection(core).area > shared / 2)
