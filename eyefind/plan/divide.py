"""Dividing a clump: between the stems first, then around a hub in each part."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from eyefind.data import Points, Style
from eyefind.plan import words
from eyefind.plan.division import Part, Stroke, Tree, Unit, leaf
from eyefind.plan.fan import OUTSIDE_MM, Star, entry_points, stroke_cost
from eyefind.plan.guard import Guard
from eyefind.plan.order import split_star
from eyefind.plan.parts import StemPart
from eyefind.plan.ring import best_star, sector
from eyefind.plan.shapes import arc, clockwise_ring, lengthened, polygon
from eyefind.rules import Rules

CHORD_STEP_MM = 2.5
"""Spacing of the ends of the strokes that are tried between two stems."""
MOST_CHORDS = {"stems": 24, "singles": 4}
"""How many ways to part the stems are followed up, the easiest first; a quarter of them
in each half, so that many stems do not take for ever."""


@dataclass(frozen=True, eq=False)
class Divider:
    """Divides parts of one clump in one style."""

    style: Style
    guard: Guard
    rules: Rules
    px_per_mm: float

    def divide(self, part: Part) -> Tree:
        """Return the best division of `part`; a leaf where one piece is best."""
        best = leaf(part, self.rules)
        if self.style == "whole" or part.core.is_empty or len(part.units) < 2:
            return best
        if len(part.eyes) < 2:
            return best  # one eye makes one safe piece, however it is cut
        if self.style == "singles":
            best = self._around_a_hub(part, best)
        if len(part.stems) > 1:
            ways = self._between_stems(part)
            if not ways:
                pairs = combinations((stem.id for stem in part.stems), 2)
                return replace(best, closed=[*best.closed, *pairs])
            best = max([best, *ways], key=lambda tree: tree.worth)
        return best

    def _around_a_hub(self, part: Part, whole: Tree) -> Tree:
        found = best_star(part, self.guard, self.rules, self.px_per_mm)
        if found is None:
            return replace(whole, closed=_neighbours(part.units, part))
        star, chosen, worth = found
        closed = _closed(star, part)
        if not worth > whole.worth:
            return replace(whole, closed=closed)
        leaves = [
            _piece(star, part, first, second)
            for first, second in zip(chosen, chosen[1:] + chosen[:1], strict=True)
        ]
        return replace(split_star(star, chosen, leaves, worth), closed=closed)

    def _between_stems(self, part: Part) -> list[Tree]:
        """Return the ways to part the stems, each half divided further."""
        trees = []
        for chord in self._chords(part):
            halves = [self.divide(half) for half in chord.halves]
            worth = halves[0].worth.plus(halves[1].worth, chord.cost)
            leaves = halves[0].leaves + halves[1].leaves
            stroke = chord.stroke
            trees.append(
                Tree(leaves, worth, words.PART_STEMS, stroke, (halves[0], halves[1]))
            )
        return trees

    def _chords(self, part: Part) -> "list[_Chord]":
        """Return straight strokes across the core with stems on both sides."""
        ppm = self.px_per_mm
        blocked = self.guard.blocked(part.core, ppm)
        margin_px = self.guard.margin_px
        stems = [stem.shape.buffer(margin_px) for stem in part.stems]
        blocked = shapely.union_all([blocked, *stems])
        shapely.prepare(blocked)
        ends, along = entry_points(part, blocked, CHORD_STEP_MM * ppm)
        first, second = _worth_a_look(part, ends, along)
        lines = shapely.linestrings(np.stack([ends[first], ends[second]], axis=1))
        roomy = part.core.buffer(0.5)
        shapely.prepare(roomy)
        free = ~shapely.intersects(blocked, lines) & shapely.covers(roomy, lines)
        lines, first, second = lines[free], first[free], second[free]
        clearance = shapely.distance(lines, blocked)
        cost = stroke_cost(shapely.length(lines), clearance, ppm)
        found: dict[object, _Chord] = {}
        most = max(MOST_CHORDS[self.style] // 4 ** len(part.faces), 1)
        for k in np.argsort(cost, kind="stable"):
            if len(found) >= most:
                break
            places = along[first[k]], along[second[k]]
            halves = _halves(part, places, lines[k])
            outside = lengthened(lines[k], OUTSIDE_MM * ppm)
            if halves is None or not self.guard.allows([outside])[0]:
                continue
            stroke = Stroke(lines[k], float(clearance[k]))
            chord = _Chord(stroke, float(cost[k]), halves)
            found.setdefault(_holds(halves[0]), chord)
        return list(found.values())


def _worth_a_look(
    part: Part, ends: Points, along: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the pairs of ends with tubers and stems on both sides of the stroke."""
    first, second = np.triu_indices(len(ends), 1)
    ring = part.core.exterior
    places = np.array([ring.project(unit.place) for unit in part.units])
    near = (along[first, None] < places) & (places <= along[second, None])
    both = near.any(axis=1) & ~near.all(axis=1)
    first, second = first[both], second[both]
    way = ends[second] - ends[first]
    sides = []
    for stem in part.stems:
        off = shapely.get_coordinates(stem.shape.centroid)[0] - ends[first]
        sides.append(way[:, 0] * off[:, 1] > way[:, 1] * off[:, 0])
    between = np.any(sides, axis=0) & ~np.all(sides, axis=0)
    return first[between], second[between]


@dataclass(frozen=True, eq=False)
class _Chord:
    stroke: Stroke
    cost: float
    halves: tuple[Part, Part]


def _halves(
    part: Part, along: tuple[float, float], line: LineString
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
    first = _half(part, core, near, on_near, line)
    second = _half(part, other, [not x for x in near], [not x for x in on_near], line)
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
    line: LineString,
) -> Part:
    return Part(
        core,
        [unit for unit, here in zip(part.units, units, strict=True) if here],
        [],
        [stem for stem, here in zip(part.stems, stems, strict=True) if here],
        part.rider,
        [*part.faces, line],
    )


def _mostly_on(stem: StemPart, core: Polygon, whole: Polygon) -> bool:
    shared = stem.shape.intersection(whole).area
    return bool(stem.shape.intersection(core).area > shared / 2)


def _holds(part: Part) -> object:
    """Return what tells one way to part the stems from another."""
    units = frozenset(unit.tubers[0] for unit in part.units)
    eyes = frozenset(eye.id for eye in part.eyes)
    return units, eyes, frozenset(stem.id for stem in part.stems)


def _piece(star: Star, part: Part, first: int, second: int) -> Part:
    count = len(star.along)
    slots = [(first + k) % count for k in range((second - first) % count)]
    core = sector(star, part.core, first, second)
    shares = [stem for stem in part.stems if stem.shape.intersects(core)]
    return Part(
        core,
        [unit for slot in slots for unit in star.units[slot]],
        [eye for slot in slots for eye in star.eyes[slot]],
        shares,
        part.rider,
    )


def _closed(star: Star, part: Part) -> list[tuple[str, str]]:
    """Return the neighbours that share a slot: no stroke passes between them."""
    return [pair for units in star.units for pair in _neighbours(units, part, False)]


def _neighbours(
    units: Sequence[Unit], part: Part, around: bool = True
) -> list[tuple[str, str]]:
    ring = part.core.exterior
    ordered = sorted(units, key=lambda unit: ring.project(unit.place))
    names = [unit.tubers[0] for unit in ordered]
    pairs = list(pairwise(names))
    return pairs + ([(names[-1], names[0])] if around and len(names) > 2 else [])
