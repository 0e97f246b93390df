"""Strokes from the outside to a hub in the crown, and the best choice among them."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from eyefind.data import Points
from eyefind.plan.choose import MOST_COST, Circle, Worth, choose_strokes, weight_of
from eyefind.plan.division import Part, Unit
from eyefind.plan.guard import Guard
from eyefind.plan.shapes import arc, bearing, polygon
from eyefind.plan.standing import Eye
from eyefind.rules import Rules

ENTRY_STEP_MM = 1.0
"""Spacing of the places on the crown's outline where a blade may enter."""
HUBS = 16
"""About how many places in the crown are tried as the hub at first."""
FINER, MOST_OPEN = 2, 2
"""How often the grid of hubs is made finer, and around how many of the best hubs."""
RIM_MM = 2.0
"""Least distance of a hub from the crown's rim."""
OUTSIDE_MM = 1.0
"""A stroke is drawn from at least this far outside the crown."""
ROOMY_MM = 3.0
"""With this much room on both sides a stroke is easy."""
MIDDLE_OF_STEM = 0.25
"""A stroke may enter through a stub's end this near (in diameters) to its axis."""


@dataclass(frozen=True, eq=False)
class Star:
    """Strokes around one hub, clockwise.

    Attributes
    ----------
    hub_rc : (2,) array
        Where they meet.
    entries : (M, 2) array
        Where each crosses the outline of the core.
    along : (M,) array
        The same, px along the core's outline.
    clearance_px : (M,) array
        Room beyond the margins on the nearer side.
    cost : (M,) array
        Length and tightness in one number.
    units, eyes : list of list
        What lies between each stroke and the next.
    """

    hub_rc: Points
    entries: Points
    along: NDArray[np.float64]
    clearance_px: NDArray[np.float64]
    cost: NDArray[np.float64]
    units: list[list[Unit]]
    eyes: list[list[Eye]]


def best_star(
    part: Part, guard: Guard, rules: Rules, px_per_mm: float
) -> tuple[Star, list[int], Worth] | None:
    """Find the hub and the strokes that divide a part best.

    Parameters
    ----------
    part : Part
        With a core and at least two units.
    guard : Guard
        The rules.
    rules : Rules
        The rules of the trade.
    px_per_mm : float
        Scale.

    Returns
    -------
    star, chosen, worth : Star, list of int, Worth
        The strokes, those that are made, and how good the pieces are; None if no two
        strokes keep the rules. `chosen` is empty if one piece is best.
    """
    blocked = guard.blocked(part.core, px_per_mm)
    entries, along = entry_points(part, blocked, ENTRY_STEP_MM * px_per_mm)
    safe_chance = rules.value("safe_eye_chance")
    best = None
    for star in _stars(part, entries, along, blocked, px_per_mm):
        chosen, worth = choose_strokes(_circle(star), safe_chance)
        if best is None or (worth, len(star.units)) > (best[2], len(best[0].units)):
            best = star, chosen, worth
    return best


def entry_points(
    part: Part, blocked: shapely.Geometry, step_px: float
) -> tuple[Points, NDArray[np.float64]]:
    """Return the places where a blade may enter, (M, 2), and px along the outline."""
    ring = part.core.exterior
    along = np.arange(0.0, ring.length, step_px)
    points = shapely.line_interpolate_point(ring, along)
    free = ~shapely.intersects(blocked, points)
    for stem in part.stems:
        if stem.axis.is_empty:
            continue
        # Never into the side of a stub: only straight down through its end.
        ends = np.array(stem.axis.coords)
        way = (ends[-1] - ends[0]) / np.hypot(*(ends[-1] - ends[0]))
        off = shapely.get_coordinates(points) - ends[0]
        beside = np.abs(off[:, 0] * way[1] - off[:, 1] * way[0])
        on_stub = shapely.dwithin(stem.shape, points, 1.0)
        free &= ~on_stub | (beside < MIDDLE_OF_STEM * stem.diameter_px)
    return shapely.get_coordinates(points[free]), along[free]


def sector(star: Star, core: Polygon, first: int, second: int) -> Polygon:
    """Return the stretch of the core between two strokes, clockwise."""
    rim = arc(core.exterior, star.along[first], star.along[second])
    return polygon(np.concatenate([[star.hub_rc], rim]))


def stroke_cost(
    length_px: NDArray[np.float64], clearance_px: NDArray[np.float64], ppm: float
) -> NDArray[np.float64]:
    """Return what strokes cost: long and tight ones are hard on the hands."""
    tight_mm = np.maximum(ROOMY_MM - clearance_px / ppm, 0.0)
    cost: NDArray[np.float64] = (length_px / ppm + 4.0 * tight_mm) / 20.0
    return np.minimum(cost, MOST_COST)


def _stars(
    part: Part,
    entries: Points,
    along: NDArray[np.float64],
    blocked: shapely.Geometry,
    ppm: float,
) -> list[Star]:
    """Draw the strokes to hubs on a grid, which is made finer where most gaps open.

    Which hubs are tried depends on shapes alone, never on the eyes' chances: so a
    confirmed eye can only add safe pieces.
    """
    inner, roomy = part.core.buffer(-RIM_MM * ppm), part.core.buffer(0.5)
    shapely.prepare(inner)
    shapely.prepare(roomy)
    stars: list[Star] = []

    def try_hubs(places: Points) -> None:
        points = shapely.points(places)
        good = shapely.covers(inner, points) & ~shapely.intersects(blocked, points)
        for hub in places[good]:
            star = _star(part, hub, entries, along, blocked, roomy, ppm)
            if star is not None:
                stars.append(star)

    low_row, low_col, high_row, high_col = part.core.bounds
    step = max(np.sqrt(part.core.area / HUBS), 2.0 * ppm)
    rows = np.arange(low_row + step / 2, high_row, step)
    cols = np.arange(low_col + step / 2, high_col, step)
    try_hubs(np.stack(np.meshgrid(rows, cols, indexing="ij"), axis=-1).reshape(-1, 2))
    ring = np.array([(r, c) for r in (-1, 0, 1) for c in (-1, 0, 1) if r or c])
    for _ in range(FINER):
        if max((_openness(star)[0] for star in stars), default=0) == len(part.units):
            break
        step /= 2
        for star in sorted(stars, key=_openness, reverse=True)[:MOST_OPEN]:
            try_hubs(star.hub_rc + ring * step)
    return stars


def _openness(star: Star) -> tuple[int, float]:
    return sum(bool(units) for units in star.units), -float(star.cost.sum())


def _star(
    part: Part,
    middle: Points,
    entries: Points,
    along: NDArray[np.float64],
    blocked: shapely.Geometry,
    roomy: Polygon,
    ppm: float,
) -> Star | None:
    """Draw every stroke to a hub that keeps the rules, one a gap."""
    reach = np.hypot(*(entries - middle).T)
    outer = entries + (entries - middle) / reach[:, None] * OUTSIDE_MM * ppm
    if part.faces:
        on_face = shapely.dwithin(
            shapely.points(entries), shapely.union_all(part.faces), 1.0
        )
        outer[on_face] = entries[on_face]
    hubs = np.broadcast_to(middle, outer.shape)
    inside = shapely.linestrings(np.stack([hubs, entries], axis=1))
    whole = shapely.linestrings(np.stack([hubs, outer], axis=1))
    free = shapely.covers(roomy, inside) & ~shapely.intersects(blocked, whole)
    if free.sum() < 2:
        return None
    clearance = shapely.distance(whole[free], blocked)
    cost = stroke_cost(reach[free], clearance, ppm)
    drawn = Star(middle, entries[free], along[free], clearance, cost, [], [])
    return _one_a_gap(drawn, part)


def _one_a_gap(star: Star, part: Part) -> Star | None:
    """Say what lies between the strokes, and keep the best of those that part alike."""
    count = len(star.along)
    unit_slots = {id(unit): _slot_of_unit(unit, star, part) for unit in part.units}
    angles = bearing(star.hub_rc, star.entries)
    turned = (angles - angles[0]) % (2 * np.pi)
    slots: list[tuple[list[Unit], list[Eye]]] = [([], []) for _ in range(count)]
    for unit in sorted(part.units, key=lambda unit: _past(unit, star, part)):
        slots[unit_slots[id(unit)]][0].append(unit)
    for eye in part.eyes:
        carrier = part.rider.get(eye.id)
        if carrier is not None:
            slot = unit_slots[id(carrier)]
        else:
            place = np.array(eye.place.coords[0])
            angle = bearing(star.hub_rc, place) - angles[0]
            slot = int(np.searchsorted(turned, angle % (2 * np.pi), "right")) - 1
        slots[slot][1].append(eye)
    filled = [k for k in range(count) if slots[k][0] or slots[k][1]]
    if len(filled) < 2:
        return None
    # Strokes after one filled slot up to the next filled one all part alike.
    kept, units, eyes = [], [], []
    for number, slot in enumerate(filled):
        before = filled[number - 1]
        alike = [(before + 1 + k) % count for k in range((slot - before) % count)]
        kept.append(min(alike, key=lambda k: star.cost[k]))
        units.append(slots[slot][0])
        eyes.append(slots[slot][1])
    order = np.argsort(star.along[kept])
    kept = [kept[k] for k in order]
    return Star(
        star.hub_rc,
        star.entries[kept],
        star.along[kept],
        star.clearance_px[kept],
        star.cost[kept],
        [units[k] for k in order],
        [eyes[k] for k in order],
    )


def _past(unit: Unit, star: Star, part: Part) -> float:
    """Return how far clockwise from the first stroke a unit sits, px."""
    ring = part.core.exterior
    return float((ring.project(unit.place) - star.along[0]) % ring.length)


def _slot_of_unit(unit: Unit, star: Star, part: Part) -> int:
    place = part.core.exterior.project(unit.place)
    return int(np.searchsorted(star.along, place, "right") - 1) % len(star.along)


def _circle(star: Star) -> Circle:
    return Circle(
        star.cost,
        np.array([sum(len(u.tubers) for u in units) for units in star.units]),
        np.array([sum(u.sound for u in units) for units in star.units]),
        np.array([sum(weight_of(e.chance) for e in eyes) for eyes in star.eyes]),
    )
