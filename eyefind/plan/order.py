"""From what is cut to the pieces, and to the order of the cuts: halves come first."""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from shapely import LineString

from eyefind.plan import words
from eyefind.plan.divide import Way
from eyefind.plan.division import Division, Part, Seam, Split
from eyefind.plan.fan import Star, core_between
from eyefind.plan.shapes import clockwise_ring, joined

BEND = 1.0
"""How much a bend in the halving cut counts against unequal halves."""


@dataclass(frozen=True, eq=False)
class Sector:
    """What lies between two strokes of a star, or a part that has none."""

    part: Part
    star: Star | None = None


@dataclass(frozen=True, eq=False)
class Blade:
    """One stroke that is made, and the numbers of the sectors on its two sides."""

    sectors: tuple[int, int]
    seam: Seam | None = None
    star: Star | None = None
    stroke: int = 0


@dataclass(eq=False)
class Cutting:
    """A clump on the bench: its sectors, the strokes to make, what has grown on.

    Attributes
    ----------
    sectors : list of Sector
        All of them.
    blades : list of Blade
        The strokes.
    grown : list of (int, int)
        Sectors that hang together for good.
    """

    sectors: list[Sector]
    blades: list[Blade]
    grown: list[tuple[int, int]] = field(default_factory=list)

    def groups(self, members: set[int], blades: Sequence[Blade]) -> list[set[int]]:
        """Return what hangs together of `members` while `blades` are not yet made."""
        home = {k: k for k in members}

        def root(k: int) -> int:
            while home[k] != k:
                home[k] = home[home[k]]
                k = home[k]
            return k

        for one, other in [*self.grown, *(blade.sectors for blade in blades)]:
            if one in home and other in home:
                home[root(one)] = root(other)
        found: dict[int, set[int]] = {}
        for k in sorted(members):
            found.setdefault(root(k), set()).add(k)
        return list(found.values())

    def size(self, members: set[int]) -> float:
        """Return the size of a group: its volume, or how many tubers it has."""
        units = [unit for k in members for unit in self.sectors[k].part.units]
        volume = sum(unit.volume_ml for unit in units)
        return volume if volume > 0 else float(len(units))


def divided(way: Way) -> Division:
    """Return the pieces of a way to divide a clump, and its cuts in order.

    Stems are parted first; then each part is halved by a cut through its hub, along
    the two strokes that halve best and bend least; then the halves are split, each
    time from the outside to the hub. So whatever is cut lies in one hand's hold, and
    nothing that was cut before is in the way.

    Parameters
    ----------
    way : Way
        What is cut.

    Returns
    -------
    Division
        A piece may reach over several parts of the crown.
    """
    cutting = _cutting(way)
    everything = set(range(len(cutting.sectors)))
    pieces = cutting.groups(everything, [])
    number = {k: n for n, piece in enumerate(pieces) for k in piece}
    leaves = [_joined([cutting.sectors[k].part for k in sorted(p)]) for p in pieces]
    splits = [
        Split(
            purpose,
            path,
            min(_clearance(blade) for blade in made),
            [pair for blade in made if (pair := _beside(cutting, blade))],
            (sorted({number[k] for k in one}), sorted({number[k] for k in other})),
        )
        for purpose, path, made, (one, other) in _in_order(cutting, everything)
    ]
    return Division(leaves, splits)


def _cutting(way: Way) -> Cutting:
    skeleton, made = way.skeleton, way.plan.made
    chosen = {part: (ring, strokes) for part, ring, strokes in made.stars}
    cutting = Cutting([], [])
    holds: dict[tuple[int, int], int] = {}  # (part, seam) -> sector
    for number, part in enumerate(skeleton.parts):
        first = len(cutting.sectors)
        if number not in chosen:
            cutting.sectors.append(Sector(part))
        else:
            ring, strokes = chosen[number]
            _add_star(cutting, part, skeleton.star(number, ring), strokes)
        for k in range(first, len(cutting.sectors)):
            for seam in cutting.sectors[k].part.seams:
                holds[number, id(seam)] = k
    for number, seam in enumerate(skeleton.seams):
        ends = [k for k, part in enumerate(skeleton.parts) if seam in part.seams]
        link = holds[ends[0], id(seam)], holds[ends[1], id(seam)]
        if number in made.joints:
            cutting.blades.append(Blade(link, seam=seam))
        else:
            cutting.grown.append(link)
    return cutting


def _add_star(cutting: Cutting, part: Part, star: Star, strokes: Sequence[int]) -> None:
    first, count = len(cutting.sectors), len(strokes)
    for k, stroke in enumerate(strokes):
        cutting.sectors.append(
            Sector(_sector(part, star, stroke, strokes[(k + 1) % count]), star)
        )
        before = first + (k - 1) % count
        cutting.blades.append(Blade((before, first + k), star=star, stroke=stroke))


def _sector(part: Part, star: Star, first: int, second: int) -> Part:
    """Return what lies between two strokes, clockwise."""
    count = len(star.along)
    slots = [(first + k) % count for k in range((second - first) % count)]
    core = core_between(star, part.core, first, second)
    return Part(
        core,
        [unit for slot in slots for unit in star.units[slot]],
        [eye for slot in slots for eye in star.eyes[slot]],
        [stem for stem in part.stems if stem.shape.intersects(core)],
        part.rider,
        [seam for slot in slots for seam in star.seams[slot]],
    )


def _joined(parts: list[Part]) -> Part:
    """Return parts that hang together as one piece."""
    if len(parts) == 1:
        return parts[0]
    stems = {stem.id: stem for part in parts for stem in part.stems}
    return Part(
        clockwise_ring(joined([part.core for part in parts])),
        [unit for part in parts for unit in part.units],
        [eye for part in parts for eye in part.eyes],
        list(stems.values()),
        parts[0].rider,
    )


def _in_order(
    cutting: Cutting, everything: set[int]
) -> Iterator[tuple[str, LineString, list[Blade], tuple[set[int], set[int]]]]:
    left = list(cutting.blades)
    groups = deque([everything])
    while groups:
        group = groups.popleft()
        inside = [blade for blade in left if set(blade.sectors) <= group]
        if not inside:
            continue
        purpose, made = _next_cut(cutting, group, inside)
        left = [blade for blade in left if blade not in made]
        rest = [blade for blade in inside if blade not in made]
        one, other = cutting.groups(group, rest)
        yield purpose, _path(made), made, (one, other)
        groups += [one, other]


def _next_cut(
    cutting: Cutting, group: set[int], inside: list[Blade]
) -> tuple[str, list[Blade]]:
    """Choose the next cut of a group: between stems, else through a hub, else to it."""
    whole = cutting.size(group)

    def badness(made: Sequence[Blade]) -> float:
        rest = [blade for blade in inside if blade not in made]
        some = cutting.size(cutting.groups(group, rest)[0])
        unequal = abs(2 * some / whole - 1) if whole > 0 else 0.0
        return unequal + BEND * _bend(made)

    seams = [[blade] for blade in inside if blade.seam is not None]
    # A star of which no stroke is made yet is still a ring: two strokes halve it.
    whole_stars = [
        blade
        for blade in inside
        if blade.star is not None
        and sum(b.star is blade.star for b in inside)
        == sum(b.star is blade.star for b in cutting.blades)
    ]
    through = [
        [one, other]
        for one, other in combinations(whole_stars, 2)
        if one.star is other.star
    ]
    split = [[blade] for blade in inside if blade.star is not None]
    for purpose, ways in (
        (words.PART_STEMS, seams),
        (words.HALVE, through),
        (words.SPLIT, split),
    ):
        if ways:
            return purpose, min(ways, key=badness)
    raise AssertionError("a group with strokes has a next cut")


def _bend(made: Sequence[Blade]) -> float:
    """Return how far a cut through a hub is from straight, 0 to 1."""
    if len(made) < 2:
        return 0.0
    ways = np.array([_entry(blade) - _star(blade).hub_rc for blade in made])
    angles = np.arctan2(ways[:, 1], ways[:, 0])
    turn = float(abs(angles[0] - angles[1])) % (2 * np.pi)
    return abs(np.pi - turn) / np.pi


def _path(made: Sequence[Blade]) -> LineString:
    if made[0].seam is not None:
        return made[0].seam.path
    hub = _star(made[0]).hub_rc
    return LineString([_entry(made[0]), hub, *(_entry(blade) for blade in made[1:])])


def _star(blade: Blade) -> Star:
    assert blade.star is not None
    return blade.star


def _entry(blade: Blade) -> np.ndarray:
    entry: np.ndarray = _star(blade).entries[blade.stroke]
    return entry


def _clearance(blade: Blade) -> float:
    if blade.seam is not None:
        return blade.seam.clearance_px
    return float(_star(blade).clearance_px[blade.stroke])


def _beside(cutting: Cutting, blade: Blade) -> tuple[str, str] | None:
    """Return the tubers on both sides of a stroke, None if there is none on one."""
    before, behind = (cutting.sectors[k].part.units for k in blade.sectors)
    if blade.seam is not None or not before or not behind:
        return None
    return before[-1].tubers[0], behind[0].tubers[0]


def eyes_lie_where_told(leaves: Sequence[Part]) -> bool:
    """Whether each eye on the crown lies in its own piece."""
    return all(
        part.core.dwithin(eye.place, 1.0)
        for part in leaves
        for eye in part.eyes
        if eye.id not in part.rider
    )
