"""A fan of strokes: from every place where a blade may enter to one hub."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from eyefind.data import Points
from eyefind.plan.choose import MOST_COST
from eyefind.plan.division import Part, Unit
from eyefind.plan.shapes import bearing
from eyefind.plan.standing import Eye

ENTRY_STEP_MM = 1.0
"""Spacing of the places on the crown's outline where a blade may enter."""
OUTSIDE_MM = 1.0
"""A stroke is drawn from at least this far outside the crown."""
ROOMY_MM = 3.0
"""With this much room on both sides a stroke is easy."""
RIM_MM = 2.0
"""Least distance of a hub from the crown's rim."""
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


class Fan:
    """Draws the strokes to a hub that keep the rules, one a gap.

    Parameters
    ----------
    part : Part
        With a core.
    blocked : Geometry
        What no stroke may touch, prepared.
    px_per_mm : float
        Scale.
    """

    def __init__(self, part: Part, blocked: shapely.Geometry, px_per_mm: float) -> None:
        self.part = part
        self._blocked = blocked
        self._ppm = px_per_mm
        self._entries, self._along = entry_points(
            part, blocked, ENTRY_STEP_MM * px_per_mm
        )
        # A cut face is outside already: the blade needs no room beyond it.
        self._on_face = shapely.dwithin(
            shapely.union_all(part.faces), shapely.points(self._entries), 1.0
        )
        self._inner = part.core.buffer(-RIM_MM * px_per_mm)
        self._roomy = part.core.buffer(0.5)
        shapely.prepare(self._inner)
        shapely.prepare(self._roomy)
        ring = part.core.exterior
        self._length = ring.length
        self._rim = {id(unit): ring.project(unit.place) for unit in part.units}

    def stars(self, hubs_rc: Points) -> list[Star]:
        """Return the star of each place, (N, 2), that has at least two strokes."""
        points = shapely.points(hubs_rc)
        good = shapely.covers(self._inner, points)
        good &= ~shapely.intersects(self._blocked, points)
        drawn = [self._star(hub) for hub in hubs_rc[good]]
        return [star for star in drawn if star is not None]

    def _star(self, hub_rc: Points) -> Star | None:
        way = self._entries - hub_rc
        reach = np.hypot(*way.T)
        outer = self._entries + way / reach[:, None] * OUTSIDE_MM * self._ppm
        outer[self._on_face] = self._entries[self._on_face]
        hubs = np.broadcast_to(hub_rc, outer.shape)
        inside = shapely.linestrings(np.stack([hubs, self._entries], axis=1))
        whole = shapely.linestrings(np.stack([hubs, outer], axis=1))
        free = ~shapely.intersects(self._blocked, whole)
        free[free] = shapely.covers(self._roomy, inside[free])
        if free.sum() < 2:
            return None
        clearance = shapely.distance(whole[free], self._blocked)
        cost = stroke_cost(reach[free], clearance, self._ppm)
        entries, along = self._entries[free], self._along[free]
        return self._one_a_gap(
            Star(hub_rc, entries, along, clearance, cost, *self._slots(hub_rc, free))
        )

    def _slots(
        self, hub_rc: Points, free: NDArray[np.bool_]
    ) -> tuple[list[list[Unit]], list[list[Eye]]]:
        """Say what lies between each stroke and the next."""
        along, entries = self._along[free], self._entries[free]
        units: list[list[Unit]] = [[] for _ in along]
        eyes: list[list[Eye]] = [[] for _ in along]
        slot_of = {}
        first = along[0]
        past = {key: (place - first) % self._length for key, place in self._rim.items()}
        for unit in sorted(self.part.units, key=lambda unit: past[id(unit)]):
            slot = int(np.searchsorted(along - first, past[id(unit)], "right")) - 1
            slot_of[id(unit)] = slot
            units[slot].append(unit)
        angles = bearing(hub_rc, entries)
        turned = (angles - angles[0]) % (2 * np.pi)
        for eye in self.part.eyes:
            carrier = self.part.rider.get(eye.id)
            if carrier is not None:
                slot = slot_of[id(carrier)]
            elif not self._roomy.covers(LineString([hub_rc, eye.place])):
                # Behind a notch of the crown: it goes with the rim beside it.
                beside = self.part.core.exterior.project(eye.place) - first
                beside %= self._length
                slot = int(np.searchsorted(along - first, beside, "right")) - 1
            else:
                there = bearing(hub_rc, np.array(eye.place.coords[0])) - angles[0]
                slot = int(np.searchsorted(turned, there % (2 * np.pi), "right")) - 1
            eyes[slot].append(eye)
        return units, eyes

    def _one_a_gap(self, star: Star) -> Star | None:
        """Keep the cheapest of the strokes that part alike."""
        count = len(star.along)
        filled = [k for k in range(count) if star.units[k] or star.eyes[k]]
        if len(filled) < 2:
            return None
        # Strokes after one filled slot up to the next filled one all part alike.
        best = {}
        for number, slot in enumerate(filled):
            before = filled[number - 1]
            alike = [(before + 1 + k) % count for k in range((slot - before) % count)]
            best[min(alike, key=lambda k: star.cost[k])] = slot
        kept = sorted(best)
        return Star(
            star.hub_rc,
            star.entries[kept],
            star.along[kept],
            star.clearance_px[kept],
            star.cost[kept],
            [star.units[best[k]] for k in kept],
            [star.eyes[best[k]] for k in kept],
        )


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


def stroke_cost(
    length_px: NDArray[np.float64], clearance_px: NDArray[np.float64], ppm: float
) -> NDArray[np.float64]:
    """Return what strokes cost: long and tight ones are hard on the hands."""
    tight_mm = np.maximum(ROOMY_MM - clearance_px / ppm, 0.0)
    cost: NDArray[np.float64] = (length_px / ppm + 4.0 * tight_mm) / 20.0
    return np.minimum(cost, MOST_COST)
