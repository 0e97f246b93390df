"""Which cuts to make: the exact programme, without any geometry.

A crown is a tree of *cells*, one around each stem, grown together at *joints*. Around
each cell's hub runs a *ring*: strokes that may be made, and the necks and eyes in the
slot after each. A plan chooses strokes of one ring a cell and the joints that are cut;
its pieces are what still hangs together.

For every number of pieces the best plan is found: a cyclic dynamic programme over the
strokes of a ring, inside a tree dynamic programme over the cells. What a cell hands to
the next one through a joint that is kept is the piece still open there; of these only
those are kept that no other one beats in everything (a Pareto front), so nothing that
could still become best is lost.

Every piece of a plan is safe, but for a clump left whole: a piece in doubt can always
be left on its neighbour, which costs a cut less and loses no safe piece.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from typing import NamedTuple

import numpy as np

from eyefind.plan.circle import At, Circle
from eyefind.plan.worth import NOTHING, Floats, Load, not_beaten, weight_of, worth_of


@dataclass(frozen=True, eq=False)
class Ring:
    """Strokes around one hub, clockwise.

    Attributes
    ----------
    cost : (M,) array
        Cost of each stroke, in pieces; M may be 0.
    load : (max(M, 1), 3) array
        What lies in the slot after each stroke, as in `Load`.
    slot : dict of int to int
        Joint -> the slot in which it lies.
    """

    cost: Floats
    load: Floats
    slot: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Joint:
    """Where two cells have grown together, and what parting them costs."""

    cells: tuple[int, int]
    cost: float


@dataclass(frozen=True, eq=False)
class Crown:
    """Rings to choose from for each cell, and the joints: a tree over the cells."""

    rings: list[list[Ring]]
    joints: list[Joint] = field(default_factory=list)


class Made(NamedTuple):
    """What a plan does: (cell, ring, strokes) of each divided cell; joints cut."""

    stars: tuple[tuple[int, int, tuple[int, ...]], ...] = ()
    joints: tuple[int, ...] = ()

    def plus(self, other: "Made") -> "Made":
        """Return both together."""
        return Made(self.stars + other.stars, self.joints + other.joints)


class Part(NamedTuple):
    """A plan for some cells: pieces, what they are worth, and the piece still open."""

    pieces: int
    worth: float
    open: Load
    made: Made

    def beside(self, other: "Part", joint: int, cost: float) -> "Part":
        """Return both plans with the joint between them cut."""
        made = self.made.plus(other.made).plus(Made(joints=(joint,)))
        worth = self.worth + other.worth - cost
        return Part(self.pieces + other.pieces, worth, self.open, made)

    def grown(self, other: "Part") -> "Part":
        """Return both plans with their open pieces as one."""
        pieces, worth = self.pieces + other.pieces, self.worth + other.worth
        return Part(
            pieces, worth, self.open.plus(other.open), self.made.plus(other.made)
        )


def best_plans(crown: Crown, safe_chance: float) -> dict[int, Part]:
    """Return the best plan for every number of safe pieces that can be had.

    Parameters
    ----------
    crown : Crown
        What may be cut.
    safe_chance : float
        A piece with at least this chance of an eye is safe.

    Returns
    -------
    dict of int to Part
        Pieces -> plan, ascending from 1. All pieces are safe; the clump left whole is
        always there, and worth 0 if it is not safe itself.
    """
    solver = _Solver(crown, weight_of(safe_chance))
    closed = solver.whole() if crown.joints else solver.beyond(0, None)[0]
    best = _best_each([part for part in closed if np.isfinite(part.worth)])
    if 1 not in best:
        best[1] = Part(1, 0.0, NOTHING, Made())
    return dict(sorted(best.items()))


@dataclass(frozen=True, eq=False)
class _Solver:
    crown: Crown
    safe_weight: float

    def whole(self) -> list[Part]:
        """Return plans for all cells: both sides of the first joint put together."""
        joint = self.crown.joints[0]
        sides = [self.beyond(cell, 0) for cell in joint.cells]
        (closed, open_), (closed_too, open_too) = sides
        parts = [
            one.beside(other, 0, joint.cost)
            for one, other in product(closed, closed_too)
        ]
        for some, others in product(_by_pieces(open_), _by_pieces(open_too)):
            parts += self._grown(some, others)
        return parts

    def beyond(self, cell: int, above: int | None) -> tuple[list[Part], list[Part]]:
        """Return the plans for a cell and those beyond it, seen from joint `above`.

        Returns
        -------
        closed, open : list of Part
            Those with all pieces closed, the best for each number of pieces; those
            whose piece at `above` is open, without those that cannot become best.
        """
        below = [
            joint
            for joint, between in enumerate(self.crown.joints)
            if cell in between.cells and joint != above
        ]
        closed: list[Part] = []
        open_: list[Part] = []
        for options in product(*(self._behind(cell, joint) for joint in below)):
            for number, ring in enumerate(self.crown.rings[cell]):
                load = ring.load.copy()
                for joint, (grown, _) in zip(below, options, strict=True):
                    load[ring.slot[joint]] += grown
                here = self._around(cell, number, load, above)
                behind = list(product(*(plans for _, plans in options)))
                for done, parts in zip((closed, open_), here, strict=True):
                    done += [_with(part, more) for part in parts for more in behind]
        return list(_best_each(closed).values()), self._front(open_, above)

    def _behind(self, cell: int, joint: int) -> list[tuple[Load, list[Part]]]:
        """Return what may come of a joint: what grows on, and the plans behind it."""
        between = self.crown.joints[joint]
        closed, open_ = self.beyond(sum(between.cells) - cell, joint)
        nothing = Part(0, 0.0, NOTHING, Made())
        cut = [nothing.beside(part, joint, between.cost) for part in closed]
        kept = [(part.open, [part._replace(open=NOTHING)]) for part in open_]
        return [*kept, (NOTHING, cut)] if cut else kept

    def _around(
        self, cell: int, number: int, load: Floats, open_at: int | None
    ) -> tuple[list[Part], list[Part]]:
        """Return the plans around one hub with the slots loaded as given."""
        ring = self.crown.rings[cell][number]
        last = -1 if open_at is None else ring.slot[open_at]
        # Turned so that the piece across the start is the one that is open.
        turn = last + 1
        table = Circle(
            np.roll(ring.cost, -turn), np.roll(load, -turn, 0), self.safe_weight
        )

        def part(pieces: int, worth: float, carried: Floats, at: At) -> Part:
            count = len(ring.cost)
            strokes = sorted((stroke + turn) % count for stroke in table.strokes(at))
            made = Made(((cell, number, tuple(strokes)),)) if strokes else Made()
            return Part(pieces, worth, Load(*carried), made)

        closed = [part(*found) for found in table.closed()]
        if open_at is None:
            return closed, []
        return closed, [part(*found) for found in table.open(self._most)]

    @cached_property
    def _most(self) -> Floats:
        """Return the most that any piece may carry."""
        most: Floats = np.sum(
            [
                np.max([ring.load.sum(axis=0) for ring in rings], axis=0)
                for rings in self.crown.rings
            ],
            axis=0,
        )
        return most

    def _front(self, parts: list[Part], above: int | None) -> list[Part]:
        if above is None:
            return []
        kept = []
        for alike in _by_pieces(parts):
            load = np.array([part.open for part in alike])
            worth = np.array([part.worth for part in alike])
            front = not_beaten(worth, load, self._most, self.safe_weight)
            kept += [alike[k] for k in front]
        return kept

    def _grown(self, some: list[Part], others: list[Part]) -> list[Part]:
        """Return the best way to put open pieces together, if any makes a safe one."""
        loads = [np.array([part.open for part in parts]) for parts in (some, others)]
        worth = worth_of(loads[0][:, None] + loads[1][None], self.safe_weight)
        worth += np.array([part.worth for part in some])[:, None]
        worth += np.array([part.worth for part in others])
        one, other = np.unravel_index(worth.argmax(), worth.shape)
        if not np.isfinite(worth[one, other]):
            return []
        whole = some[one].grown(others[other])
        best = float(worth[one, other])
        return [whole._replace(pieces=whole.pieces + 1, worth=best, open=NOTHING)]


def _with(part: Part, others: Sequence[Part]) -> Part:
    for other in others:
        part = part.grown(other)
    return part


def _by_pieces(parts: Sequence[Part]) -> list[list[Part]]:
    """Return the plans in groups with as many pieces."""
    groups: dict[int, list[Part]] = {}
    for part in parts:
        groups.setdefault(part.pieces, []).append(part)
    return list(groups.values())


def _best_each(parts: Sequence[Part]) -> dict[int, Part]:
    """Return the best of the plans with each number of pieces."""
    groups = _by_pieces(parts)
    return {g[0].pieces: max(g, key=lambda part: part.worth) for g in groups}
