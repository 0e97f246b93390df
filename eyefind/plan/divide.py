"""Dividing a clump: between the stems first, then around a hub in each part."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

from eyefind.data import Style
from eyefind.plan import words
from eyefind.plan.crossing import crossings
from eyefind.plan.division import Part, Tree, Unit, leaf
from eyefind.plan.fan import Star
from eyefind.plan.guard import Guard
from eyefind.plan.order import split_star
from eyefind.plan.ring import best_star, sector
from eyefind.rules import Rules

MOST_CROSSINGS = {"stems": 24, "singles": 4}
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
        if not _eyes_lie_where_told(leaves):
            return replace(whole, closed=closed)
        return replace(split_star(star, chosen, leaves, worth), closed=closed)

    def _between_stems(self, part: Part) -> list[Tree]:
        """Return the ways to part the stems, each half divided further."""
        trees = []
        most = max(MOST_CROSSINGS[self.style] // 4 ** len(part.faces), 1)
        for way in crossings(part, self.guard, most, self.px_per_mm):
            halves = [self.divide(half) for half in way.halves]
            worth = halves[0].worth.plus(halves[1].worth, way.cost)
            leaves = halves[0].leaves + halves[1].leaves
            stroke = way.stroke
            trees.append(
                Tree(leaves, worth, words.PART_STEMS, stroke, (halves[0], halves[1]))
            )
        return trees


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


def _eyes_lie_where_told(leaves: Sequence[Part]) -> bool:
    """Whether every eye on the crown lies on its own piece of it."""
    return all(
        part.core.dwithin(eye.place, 1.0)
        for part in leaves
        for eye in part.eyes
        if eye.id not in part.rider
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
