"""Outlines that follow a cut which the grower moved.

What lies between a cut as planned and as moved changes sides: it goes to what lies on
the other side of the planned cut. Nothing else may change by it: the same pieces hold
the same eyes and tubers, and hang together nowhere that they did not before. A move
after which that is not so makes another plan, and is refused.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations
from typing import Final

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.ops import split

from eyefind.data import Cut, Discard, Piece, Plan
from eyefind.plan import move_words, words
from eyefind.plan.parts import Body, Clump, StemPart
from eyefind.plan.shapes import joined, largest, points_of, polygon
from eyefind.plan.standing import Eye

BESIDE_MM: Final = 3.0
"""What lies this near to a cut lies beside it: necks are cut so far from the crown."""
SLACK_MM: Final = 0.5
"""Less than this is as good as nothing to a blade."""
LEAST_MM2: Final = 0.1
"""Areas smaller than this are rounding: the record keeps tenths of a pixel."""
WELD_PX: Final = 0.1
"""What is handed over is drawn so much larger: outlines and cuts meet no closer."""
TOUCH_PX: Final = 1.0
"""Outlines no farther apart than this share a border, and a cut so near runs on it."""


@dataclass(frozen=True, eq=False)
class Handed:
    """What goes from one outline to another, by their numbers."""

    giver: int
    taker: int
    area: shapely.Geometry


@dataclass(frozen=True, eq=False)
class State:
    """Strokes and outlines, those of the pieces and then those of what leaves."""

    paths: list[LineString]
    shapes: list[Polygon]

    @cached_property
    def cut(self) -> shapely.Geometry:
        """All places so near to a stroke that it runs there."""
        return shapely.union_all(self.paths).buffer(1.5 * TOUCH_PX)

    def uncut(self, one: int, other: int) -> float:
        """Return how long the border of two outlines is where no cut runs, px."""
        shape, beside = self.shapes[one], self.shapes[other]
        if shape.is_empty or beside.is_empty or shape.distance(beside) > TOUCH_PX:
            return 0.0
        border = shape.exterior.intersection(beside.buffer(TOUCH_PX))
        return float(border.difference(self.cut).length)


def followed(plan: Plan, cut: Cut, clump: Clump, eyes: Sequence[Eye]) -> Plan | str:
    """Return the plan with a cut moved and the outlines following it.

    Parameters
    ----------
    plan : Plan
        With the cut as planned.
    cut : Cut
        As moved.
    clump : Clump
        The parts of the clump.
    eyes : sequence of Eye
        The eyes that count.

    Returns
    -------
    Plan or str
        The plan; or why the move cannot be, in words.
    """
    return _Move(plan, cut, clump, eyes).made()


class _Move:
    """One cut that moves: what it hands over, and whether that may be."""

    def __init__(self, plan: Plan, cut: Cut, clump: Clump, eyes: Sequence[Eye]) -> None:
        self.plan, self.cut, self.clump, self.eyes = plan, cut, clump, eyes
        self.parts: list[Piece | Discard] = [*plan.pieces, *plan.discards]
        self.names = [move_words.piece(piece.letter) for piece in plan.pieces]
        self.names += [move_words.leaves_of(gone.belongs_to) for gone in plan.discards]
        self.before = State(
            [LineString(old.path_px) for old in plan.cuts],
            [polygon(part.outline_px) for part in self.parts],
        )
        self.number = [old.number for old in plan.cuts].index(cut.number)
        self.slack_px = SLACK_MM * clump.px_per_mm
        self.near_px = BESIDE_MM * clump.px_per_mm
        self.least_px2 = LEAST_MM2 * clump.px_per_mm**2

    def made(self) -> Plan | str:
        """Return the plan with the cut moved, or why it cannot be."""
        paths, shapes = [*self.before.paths], [*self.before.shapes]
        paths[self.number] = LineString(self.cut.path_px)
        handed = list(self._handed_over(paths[self.number]))
        if told := self._changes_hands(handed):
            return told
        for one in handed:
            area = one.area.buffer(WELD_PX, join_style="mitre")
            shapes[one.giver] = shapes[one.giver].difference(area)
            others = shapely.union_all(np.delete(np.array(shapes), one.taker))
            shapes[one.taker] = joined([shapes[one.taker], area.difference(others)])
        for giver in {one.giver for one in handed}:
            rest, whole = self._solid(shapes[giver]), largest(shapes[giver])
            # Filled where it had a hole: it lies on both sides of the cut.
            if len(rest) != 1 or whole.area > rest[0].area + self.least_px2:
                return move_words.cut_in_two(self.names[giver])
            shapes[giver] = whole
        after = State(paths, shapes)
        return (
            self._stops_inside(after)
            or self._runs_into(after)
            or self._hangs_together(after)
            or self._plan(shapes)
        )

    def _plan(self, shapes: Sequence[Polygon]) -> Plan:
        parts = [
            part if new is old else replace(part, outline_px=points_of(new))
            for part, old, new in zip(
                self.parts, self.before.shapes, shapes, strict=True
            )
        ]
        return replace(
            self.plan,
            cuts=[
                self.cut if old.number == self.cut.number else old
                for old in self.plan.cuts
            ],
            pieces=[part for part in parts if isinstance(part, Piece)],
            discards=[part for part in parts if isinstance(part, Discard)],
        )

    def _handed_over(self, new: LineString) -> Iterator[Handed]:
        """Yield what changes sides when the cut runs along `new`."""
        old, shapes = self.before.paths[self.number], self.before.shapes
        concerned = self._concerned(self.number)
        for face in _between(old, new):
            stretch = old.intersection(face.buffer(TOUCH_PX))
            near = stretch.buffer(self.near_px, cap_style="flat")
            left, right = (
                near.intersection(old.buffer(way * self.near_px, single_sided=True))
                for way in (1, -1)
            )
            if face.intersection(left).area < face.intersection(right).area:
                left, right = right, left
            over = [
                shapes[k].intersection(right).area - shapes[k].intersection(left).area
                for k in concerned
            ]
            takers = [k for k, more in zip(concerned, over, strict=True) if more > 0]
            givers = [k for k, more in zip(concerned, over, strict=True) if more < 0]
            for giver in givers if takers else ():
                for area in self._cut_up(shapes[giver].intersection(face)):
                    beside = area.buffer(self.near_px)
                    touch = [shapes[k].intersection(beside).area for k in takers]
                    yield Handed(giver, takers[int(np.argmax(touch))], area)

    def _cut_up(self, area: shapely.Geometry) -> list[Polygon]:
        """Return what is handed over, parted where other cuts part those that take."""
        parts = self._solid(area)
        for k, path in enumerate(self.before.paths):
            if k != self.number:
                parts = [p for part in parts for p in split(part, path).geoms]
        return [solid for part in parts for solid in self._solid(part)]

    def _concerned(self, number: int) -> range:
        """Return the outlines on the bench at a cut: before a split the rest left."""
        splits = self.plan.cuts[number].purpose in words.SPLITS
        return range(len(self.plan.pieces if splits else self.parts))

    def _solid(self, shape: shapely.Geometry) -> list[Polygon]:
        """Return the polygons of a shape that are more than rounding."""
        parts = shapely.get_parts(shape)
        return [part for part in parts if part.area > self.least_px2]

    def _stops_inside(self, after: State) -> str | None:
        """Say which cut would end in the flesh, off all cuts before it."""
        for k, cut in enumerate(self.plan.cuts):
            for end in (0, -1):
                deep = self._depth(after, k, end)
                if deep > self._depth(self.before, k, end) + self.slack_px:
                    return move_words.stops_inside(self._other(cut))
        return None

    def _depth(self, state: State, number: int, end: int) -> float:
        """Return how deep in the flesh a cut ends, off the cuts before it, px."""
        at = Point(state.paths[number].coords[end])
        flesh = [state.shapes[k] for k in self._concerned(number)]
        if self.plan.cuts[number].purpose not in words.SPLITS:
            # A stub between what leaves and the crown is in no outline.
            bodies = self.clump.bodies.values()
            flesh += [self.clump.crown, *(body.shape for body in bodies)]
        # Only what lies around counts.
        flesh = [shape for shape in flesh if shape.dwithin(at, self.near_px)]
        solid = shapely.union_all(flesh).buffer(self.slack_px).buffer(-self.slack_px)
        if not solid.contains(at):
            return 0.0
        ways = [solid.boundary, *state.paths[:number]]
        return min(float(way.distance(at)) for way in ways)

    def _other(self, cut: Cut) -> int | None:
        """Return the number of a cut; None of the one that is moved."""
        return None if cut.number == self.cut.number else cut.number

    def _runs_into(self, after: State) -> str | None:
        """Say what a cut would run into."""
        for k, cut in enumerate(self.plan.cuts):
            # What it runs into may have changed hands: only the whole way counts.
            grown = [
                self._way_in(after, k, part) - self._way_in(self.before, k, part)
                for part in self._concerned(k)
            ]
            if sum(grown) > self.slack_px:
                name = self.names[int(np.argmax(grown))]
                return move_words.runs_into(name, self._other(cut))
        return None

    def _way_in(self, state: State, number: int, part: int) -> float:
        inner = state.shapes[part].buffer(-self.slack_px)
        way: float = state.paths[number].intersection(inner).length
        return way

    def _hangs_together(self, after: State) -> str | None:
        """Say which two parts would hang together where they did not before."""
        for i, j in combinations(range(len(self.parts)), 2):
            grown = after.uncut(i, j) - self.before.uncut(i, j)
            if grown > self.slack_px:
                return move_words.hang_together(self.names[i], self.names[j])
        return None

    def _changes_hands(self, handed: Sequence[Handed]) -> str | None:
        """Say which eye, tuber or stem would come to another part."""
        limbs: list[Body | StemPart] = [*self.clump.bodies.values(), *self.clump.stems]
        for one in handed:
            holds, name = _held(self.parts[one.taker]), self.names[one.taker]
            for eye in self.eyes:
                if not eye.side and eye.id not in holds and one.area.covers(eye.place):
                    return move_words.would_come_to(f"eye {eye.id}", name)
            for limb in limbs:
                share = one.area.intersection(limb.shape).area
                if limb.id not in holds and share > limb.shape.area / 2:
                    return move_words.would_come_to(limb.id, name)
        return None


def _between(old: LineString, new: LineString) -> list[Polygon]:
    """Return what two ways of one cut enclose."""
    ends = [(old.coords[k], new.coords[k]) for k in (0, -1)]
    joints = [LineString(pair) for pair in ends if pair[0] != pair[1]]
    lines = shapely.union_all([old, new, *joints])
    return list(shapely.get_parts(shapely.polygonize(shapely.get_parts(lines))))


def _held(part: Piece | Discard) -> set[str]:
    if isinstance(part, Piece):
        return {*part.eyes, *part.tubers, *part.stems}
    return {part.belongs_to}
