"""The crown as the programme sees it: parts around stems, seams and stars."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from eyefind.plan.costs import Costs
from eyefind.plan.crossing import crossings
from eyefind.plan.division import Part, Seam, load_of
from eyefind.plan.fan import Star
from eyefind.plan.guard import Guard
from eyefind.plan.programme import Crown, Joint, Ring
from eyefind.plan.ring import stars_of
from eyefind.plan.search import Search

Gap = tuple[str, str] | int
"""Two neighbouring tubers, or the ``id`` of a seam."""


@dataclass(frozen=True, eq=False)
class Skeleton:
    """One way to see a crown as parts grown together at seams.

    Attributes
    ----------
    parts : list of Part
        One, or one for each stem or group of stems.
    seams : list of Seam
        Between them: a tree.
    stars : list of list of Star
        For each part, the hubs and strokes to choose from.
    """

    parts: list[Part]
    seams: list[Seam] = field(default_factory=list)
    stars: list[list[Star]] = field(default_factory=list)

    def crown(self, closed: Gap | None = None) -> Crown:
        """Return it for the programme, the gap `closed` never to be cut."""
        joints = []
        for seam in self.seams:
            ends = [k for k, part in enumerate(self.parts) if seam in part.seams]
            cost = np.inf if closed == id(seam) else seam.cost
            joints.append(Joint((ends[0], ends[1]), cost))
        numbers = {id(seam): number for number, seam in enumerate(self.seams)}
        rings = [
            [
                _uncut(part, numbers),
                *(_ring(star, numbers, closed) for star in self.stars[number]),
            ]
            for number, part in enumerate(self.parts)
        ]
        return Crown(rings, joints)

    def star(self, part: int, ring: int) -> Star:
        """Return the star of a ring of the crown; the first ring has none."""
        return self.stars[part][ring - 1]


def skeletons(
    part: Part, guard: Guard, costs: Costs, search: Search, with_stars: bool
) -> list[Skeleton]:
    """Return all ways to see a crown that are followed up.

    Parameters
    ----------
    part : Part
        All of it, with a core.
    guard : Guard
        The rules.
    costs : Costs
        What strokes cost.
    search : Search
        How thoroughly to look.
    with_stars : bool
        Whether parts may be divided around a hub; else only stems are parted.

    Returns
    -------
    list of Skeleton
        Which ones depends on shapes alone, never on the eyes' chances.
    """
    most = search.seams if with_stars else search.seams_alone
    found = _seamed(part, guard, costs, most)
    drawn: dict[int, list[Star]] = {}
    for skeleton in found:
        for piece in skeleton.parts:
            if id(piece) not in drawn:
                drawn[id(piece)] = (
                    stars_of(piece, guard, costs, search)
                    if with_stars and piece.units
                    else []
                )
    return [
        replace(skeleton, stars=[drawn[id(piece)] for piece in skeleton.parts])
        for skeleton in found
    ]


def _seamed(part: Part, guard: Guard, costs: Costs, most: int) -> list[Skeleton]:
    found = [Skeleton([part])]
    if len(part.stems) < 2:
        return found
    for way in crossings(part, guard, max(most, 1), costs):
        halves = [_seamed(half, guard, costs, most // 4) for half in way.halves]
        found += [
            Skeleton(one.parts + other.parts, [*one.seams, *other.seams, way.seam])
            for one in halves[0]
            for other in halves[1]
        ]
    return found


def gaps(star: Star) -> list[Gap | None]:
    """Return for each stroke the tubers on its two sides, None if there are none."""
    names = [units[0].tubers[0] if units else None for units in star.units]
    lasts = [units[-1].tubers[0] if units else None for units in star.units]
    if not any(names):
        return [None for _ in names]
    return [(_next(lasts, k - 1, -1), _next(names, k, 1)) for k in range(len(names))]


def _next(names: Sequence[str | None], start: int, step: int) -> str:
    """Return the first name around a circle, forwards or backwards."""
    around = (names[(start + step * k) % len(names)] for k in range(len(names)))
    return next(name for name in around if name is not None)


def _ring(star: Star, numbers: dict[int, int], closed: Gap | None) -> Ring:
    cost = star.cost
    if isinstance(closed, tuple):
        shut = [gap == closed for gap in gaps(star)]
        cost = np.where(shut, np.inf, cost)
    slots = zip(star.units, star.eyes, strict=True)
    slot = {
        numbers[id(seam)]: k for k, seams in enumerate(star.seams) for seam in seams
    }
    load = np.array([load_of(units, eyes) for units, eyes in slots])
    return Ring(cost, load, slot)


def _uncut(part: Part, numbers: dict[int, int]) -> Ring:
    slot = {numbers[id(seam)]: 0 for seam in part.seams}
    return Ring(np.zeros(0), np.array([part.load()]), slot)
