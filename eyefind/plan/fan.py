"""A fan of strokes: from every place where a blade may enter to one hub."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from eyefind.data import Points
from eyefind.plan.costs import Costs
from eyefind.plan.division import Part, Seam, Unit
from eyefind.plan.shapes import arc, bearing, polygon
from eyefind.plan.standing import Eye

OUTSIDE_MM = 1.0
"""A stroke is drawn from at least this far outside the crown."""
RIM_MM = 2.0
"""Least distance of a hub from the crown's rim."""
ENOUGH = 5
"""Of so many strokes through one gap the easiest is as good as of all."""
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
        What each costs, in plants.
    units, eyes, seams : list of list
        What lies between each stroke and the next.
    """

    hub_rc: Points
    entries: Points
    along: NDArray[np.float64]
    clearance_px: NDArray[np.float64]
    cost: NDArray[np.float64]
    units: list[list[Unit]]
    eyes: list[list[Eye]]
    seams: list[list[Seam]]


class Fan:
    """Draws the strokes to a hub that keep the rules, one a gap.

    Parameters
    ----------
    part : Part
        With a core.
    blocked : Geometry
        What no stroke may touch, prepared.
    costs : Costs
        What a stroke costs; knows the scale.
    entry_step_mm : float
        Spacing of the places on the rim where a blade may enter.
    """

    def __init__(
        self,
        part: Part,
        blocked: shapely.Geometry,
        costs: Costs,
        entry_step_mm: float,
    ) -> None:
        self.part = part
        self.blocked = blocked
        self._costs = costs
        self.px_per_mm = costs.px_per_mm
        self._entry_step_px = entry_step_mm * self.px_per_mm
        self.entries, self.along = entry_points(part, blocked, self._entry_step_px)
        self._inner = part.core.buffer(-RIM_MM * self.px_per_mm)
        self._roomy = part.core.buffer(0.5)
        shapely.prepare(self._inner)
        shapely.prepare(self._roomy)
        ring = part.core.exterior
        self._length = ring.length
        eyes = np.array([eye.place for eye in part.eyes], dtype=object)
        on_core = [eye.id not in part.rider for eye in part.eyes]
        self._places = shapely.get_coordinates(eyes)
        self.eyes_on_core = self._places[np.array(on_core, dtype=bool)]
        self._beside = shapely.line_locate_point(ring, eyes)
        self.rim = {id(unit): ring.project(unit.place) for unit in part.units}
        self.rim |= {
            id(seam): ring.project(seam.path.interpolate(0.5, normalized=True))
            for seam in part.seams
        }

    def hubs(self, step_px: float) -> Points:
        """Return the places of a grid that may be hubs, (N, 2)."""
        low_row, low_col, high_row, high_col = self.part.core.bounds
        rows = np.arange(low_row + step_px / 2, high_row, step_px)
        cols = np.arange(low_col + step_px / 2, high_col, step_px)
        grid = np.stack(np.meshgrid(rows, cols, indexing="ij"), axis=-1).reshape(-1, 2)
        return self.allowed(grid)

    def allowed(self, places_rc: Points) -> Points:
        """Return those of some places, (N, 2), that may be hubs."""
        points = shapely.points(places_rc)
        good = shapely.covers(self._inner, points)
        good &= ~shapely.intersects(self.blocked, points)
        hubs: Points = places_rc[good]
        return hubs

    def star(self, hub_rc: Points) -> Star | None:
        """Return the star of a hub; None if it has fewer than two strokes."""
        way = self.entries - hub_rc
        reach = np.hypot(*way.T)
        outer = self.entries + way / reach[:, None] * OUTSIDE_MM * self.px_per_mm
        hubs = np.broadcast_to(hub_rc, outer.shape)
        inside = shapely.linestrings(np.stack([hubs, self.entries], axis=1))
        whole = shapely.linestrings(np.stack([hubs, outer], axis=1))
        free = ~shapely.intersects(self.blocked, whole)
        free[free] = shapely.covers(self._roomy, inside[free])
        free[free] = _enough(self.along[free], self._entry_step_px)
        if free.sum() < 2:
            return None
        clearance = shapely.distance(whole[free], self.blocked)
        cost = self._costs.of_strokes(reach[free], clearance)
        entries, along = self.entries[free], self.along[free]
        return self._one_a_gap(
            Star(hub_rc, entries, along, clearance, cost, *self._slots(hub_rc, free))
        )

    def _slots(
        self, hub_rc: Points, free: NDArray[np.bool_]
    ) -> tuple[list[list[Unit]], list[list[Eye]], list[list[Seam]]]:
        """Say what lies between each stroke and the next."""
        along, entries = self.along[free], self.entries[free]
        units: list[list[Unit]] = [[] for _ in along]
        eyes: list[list[Eye]] = [[] for _ in along]
        seams: list[list[Seam]] = [[] for _ in along]
        slot_of = {}
        first = along[0]
        past = {key: (place - first) % self._length for key, place in self.rim.items()}
        for unit in sorted(self.part.units, key=lambda unit: past[id(unit)]):
            slot = int(np.searchsorted(along - first, past[id(unit)], "right")) - 1
            slot_of[id(unit)] = slot
            units[slot].append(unit)
        for seam in self.part.seams:
            slot = int(np.searchsorted(along - first, past[id(seam)], "right")) - 1
            seams[slot].append(seam)
        angles = bearing(hub_rc, entries)
        turned = (angles - angles[0]) % (2 * np.pi)
        seen = self._seen(hub_rc)
        for number, eye in enumerate(self.part.eyes):
            carrier = self.part.rider.get(eye.id)
            if carrier is not None:
                slot = slot_of[id(carrier)]
            elif not seen[number]:
                # Behind a notch of the crown: it goes with the rim beside it.
                beside = self._beside[number] - first
                beside %= self._length
                slot = int(np.searchsorted(along - first, beside, "right")) - 1
            else:
                there = bearing(hub_rc, self._places[number]) - angles[0]
                slot = int(np.searchsorted(turned, there % (2 * np.pi), "right")) - 1
            eyes[slot].append(eye)
        return units, eyes, seams

    def holds_eyes(self, star: Star) -> bool:
        """Whether every eye on the core lies between the strokes that it is told to.

        Those that are seen from the hub do; behind a notch they may not.
        """
        seen = self._seen(star.hub_rc)
        hidden = {
            eye.id
            for eye, plain in zip(self.part.eyes, seen, strict=True)
            if not plain and eye.id not in self.part.rider
        }
        for k, eyes in enumerate(star.eyes):
            own = [eye for eye in eyes if eye.id in hidden]
            if own:
                following = (k + 1) % len(star.along)
                core = core_between(star, self.part.core, k, following)
                if not all(core.dwithin(eye.place, 1.0) for eye in own):
                    return False
        return True

    def _seen(self, hub_rc: Points) -> NDArray[np.bool_]:
        """Whether the straight way from a hub to each eye lies in the core."""
        hubs = np.broadcast_to(hub_rc, self._places.shape)
        ways = shapely.linestrings(np.stack([hubs, self._places], axis=1))
        seen: NDArray[np.bool_] = shapely.covers(self._roomy, ways)
        return seen

    def _one_a_gap(self, star: Star) -> Star | None:
        """Keep the cheapest of the strokes that part alike."""
        count = len(star.along)
        filled = [
            k for k in range(count) if star.units[k] or star.eyes[k] or star.seams[k]
        ]
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
            [star.seams[best[k]] for k in kept],
        )


def _enough(along: NDArray[np.float64], step_px: float) -> NDArray[np.bool_]:
    """Choose at most `ENOUGH` places of each stretch of the rim, evenly."""
    begins = np.diff(along, prepend=-np.inf) > 1.5 * step_px
    first = np.flatnonzero(begins)
    stretch = np.cumsum(begins) - 1
    size = np.diff(first, append=len(along))
    every = -(-size // ENOUGH)
    skipped = (size - 1) % every // 2
    place = np.arange(len(along)) - first[stretch]
    chosen: NDArray[np.bool_] = (place - skipped[stretch]) % every[stretch] == 0
    return chosen


def core_between(star: Star, core: Polygon, first: int, second: int) -> Polygon:
    """Return the stretch of the core between two strokes, clockwise."""
    rim = arc(core.exterior, star.along[first], star.along[second])
    return polygon(np.concatenate([[star.hub_rc], rim]))


def entry_points(
    part: Part, blocked: shapely.Geometry, step_px: float
) -> tuple[Points, NDArray[np.float64]]:
    """Return the places where a blade may enter, (M, 2), and px along the outline."""
    ring = part.core.exterior
    along = np.arange(0.0, ring.length, step_px)
    points = shapely.line_interpolate_point(ring, along)
    free = ~shapely.intersects(blocked, points)
    for seam in part.seams:
        free &= ~shapely.dwithin(seam.path, points, 1.0)
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
