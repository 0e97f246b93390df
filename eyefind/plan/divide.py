"""Dividing a clump: every number of safe pieces with its best plan, and the pick."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from eyefind.data import Style
from eyefind.plan import programme
from eyefind.plan.costs import Costs
from eyefind.plan.division import Part
from eyefind.plan.guard import Guard
from eyefind.plan.programme import best_plans
from eyefind.plan.search import Search
from eyefind.plan.skeleton import Gap, Skeleton, gaps, skeletons
from eyefind.rules import Rules

FEW = 8
"""With more pieces no second-best plan is looked for: every gap is needed then."""


@dataclass(frozen=True, eq=False)
class Way:
    """One way to divide a clump.

    Attributes
    ----------
    skeleton : Skeleton
        How the crown is seen.
    plan : programme.Part
        What is cut.
    worth : float
        Plants to expect, less what the cutting costs.
    """

    skeleton: Skeleton
    plan: programme.Part
    worth: float

    @property
    def pieces(self) -> int:
        """Return the number of pieces."""
        return self.plan.pieces

    def length_px(self) -> float:
        """Return the length of all strokes together."""
        long = sum(self.skeleton.seams[k].path.length for k in self.plan.made.joints)
        for part, ring, strokes in self.plan.made.stars:
            star = self.skeleton.star(part, ring)
            ways = star.entries[list(strokes)] - star.hub_rc
            long += float(np.hypot(*ways.T).sum())
        return float(long)

    def gaps(self) -> set[Gap]:
        """Return the gaps that are cut."""
        cut: set[Gap] = {id(self.skeleton.seams[k]) for k in self.plan.made.joints}
        for part, ring, strokes in self.plan.made.stars:
            between = gaps(self.skeleton.star(part, ring))
            cut |= {gap for k in strokes if (gap := between[k]) is not None}
        return cut


@dataclass(frozen=True, eq=False)
class Ways:
    """All ways to divide a clump that are worth a look.

    Attributes
    ----------
    skeletons : list of Skeleton
        How the crown may be seen.
    costs : Costs
        What cutting costs.
    rules : Rules
        The rules of the trade.
    """

    skeletons: list[Skeleton]
    costs: Costs
    rules: Rules

    def curve(self) -> dict[int, Way]:
        """Return the best way for each number of safe pieces, ascending from 1."""
        best: dict[int, Way] = {}
        for ways in self._each:
            for pieces, way in ways.items():
                if pieces not in best or way.worth > best[pieces].worth:
                    best[pieces] = way
        return dict(sorted(best.items()))

    @cached_property
    def _each(self) -> list[dict[int, Way]]:
        """The best ways of each skeleton."""
        return [self._ways(skeleton) for skeleton in self.skeletons]

    def _ways(self, skeleton: Skeleton, closed: Gap | None = None) -> dict[int, Way]:
        """Return the best ways of a skeleton, the gap `closed` never cut."""
        safe = self.rules.value("safe_eye_chance")
        plans = best_plans(skeleton.crown(closed), safe)
        hands = self.costs.of_hands
        return {n: Way(skeleton, p, p.worth - hands(n)) for n, p in plans.items()}

    def open_gaps(self) -> set[Gap]:
        """Return every gap that some stroke can pass."""
        found: set[Gap] = {id(seam) for s in self.skeletons for seam in s.seams}
        for skeleton in self.skeletons:
            for stars in skeleton.stars:
                found |= {gap for star in stars for gap in gaps(star) if gap}
        return found

    def close_to(self, way: Way, less: float) -> Way | None:
        """Return the best other way with as many pieces, if it is nearly as good.

        Any other way leaves out at least one gap that this one cuts: so the best of
        those that do without one of them is the second best of all.

        Parameters
        ----------
        way : Way
            The best one.
        less : float
            By how much less the other one may be worth, in plants.
        """
        if not 1 < way.pieces <= FEW:
            return None
        close = [ways for ways in self._each if self._reaches(ways, way, less)]
        found = [
            other
            for gap in way.gaps()
            for ways in close
            if (other := self._without(ways, way.pieces, gap)) is not None
        ]
        best = max(found, key=lambda other: other.worth, default=None)
        return best if best and best.worth > way.worth - less else None

    def _reaches(self, ways: dict[int, Way], way: Way, less: float) -> bool:
        own = ways.get(way.pieces)
        return own is not None and own.worth > way.worth - less

    def _without(self, ways: dict[int, Way], pieces: int, gap: Gap) -> Way | None:
        """Return the best way of a skeleton that does not cut a gap."""
        own = ways[pieces]
        if gap not in own.gaps():
            return own
        return self._ways(own.skeleton, gap).get(pieces)


def ways_to_divide(
    part: Part,
    guard: Guard,
    rules: Rules,
    style: Style,
    px_per_mm: float,
    search: Search,
) -> Ways:
    """Look for all ways to divide a clump in a style.

    Parameters
    ----------
    part : Part
        All of it.
    guard : Guard
        The rules.
    rules : Rules
        The rules of the trade.
    style : str
        ``"stems"`` parts stems only, ``"whole"`` nothing.
    px_per_mm : float
        Scale.
    search : Search
        How thoroughly to look.

    Returns
    -------
    Ways
        At least that of leaving it whole.
    """
    radius_mm = float(np.sqrt(part.core.area / np.pi)) / px_per_mm
    costs = Costs(rules, px_per_mm, radius_mm)
    one_eye = len(part.eyes) < 2  # one eye makes one safe piece, however it is cut
    if style == "whole" or part.core.is_empty or len(part.units) < 2 or one_eye:
        return Ways([Skeleton([part], [], [[]])], costs, rules)
    found = skeletons(part, guard, costs, search, style != "stems")
    return Ways(found, costs, rules)


def pick(
    curve: Mapping[int, Way],
    style: Style,
    most_pieces: int | None,
    fits: "Iterator[bool] | None" = None,
) -> int:
    """Pick a number of pieces by what the grower wants.

    Parameters
    ----------
    curve : mapping of int to Way
        Pieces -> the best way.
    style : str
        ``"singles"`` and ``"stems"`` take as many safe pieces as can be had,
        ``"least"`` the fewest cuts that give a second safe piece.
    most_pieces : int or None
        No more pieces than this.
    fits : iterator of bool, optional
        Whether each way, ascending, fits into the room that is left in the store.

    Returns
    -------
    int
        The number of pieces.
    """
    allowed = [k for k in curve if most_pieces is None or k <= most_pieces] or [1]
    if style == "least":
        allowed = allowed[:2]
    if fits is None:
        return allowed[-1]
    fitting = [k for k, fit in zip(curve, fits, strict=False) if fit and k in allowed]
    return fitting[0] if fitting else allowed[-1]
