"""A clump being divided: what belongs together, and the splits as a tree."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from eyefind.plan.choose import Worth, is_safe, weight_of
from eyefind.plan.drafts import Cleaned
from eyefind.plan.parts import CROWN, NOTCH_MM, Body, StemPart, hanging_on
from eyefind.plan.shapes import clockwise_ring, closed, joined
from eyefind.plan.standing import Eye
from eyefind.rules import Rules

ON_BODY_MM = 5.0
"""An eye off the crown goes with its own tuber, if that is at most this far away."""


@dataclass(frozen=True, eq=False)
class Unit:
    """A tuber on the crown and all that hangs on it: never parted.

    Attributes
    ----------
    tubers : list of str
        Ids, the one on the crown first.
    shape : Polygon
        Over all of them; may be empty.
    place : Point
        Where it leaves the crown.
    sound : bool
        Whether one of its bodies is worth its room.
    volume_ml : float
        Sum over its bodies.
    """

    tubers: list[str]
    shape: Polygon
    place: Point
    sound: bool
    volume_ml: float


@dataclass(frozen=True, eq=False)
class Part:
    """A part of the clump that may be divided further.

    Attributes
    ----------
    core : Polygon
        Crown and stubs, outline clockwise; empty if no crown was made out.
    units, eyes, stems : list
        What it holds.
    rider : dict of str to Unit
        Eye id -> the unit on whose neck or body it sits, outside the core.
    faces : list of LineString
        Cuts that already bound it.
    """

    core: Polygon
    units: list[Unit]
    eyes: list[Eye]
    stems: list[StemPart]
    rider: dict[str, Unit] = field(default_factory=dict)
    faces: list[LineString] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Stroke:
    """A path through the crown.

    Attributes
    ----------
    path : LineString
        One or two straight strokes.
    clearance_px : float
        Room beyond the margins at its tightest place.
    between : list of (str, str)
        The tubers on both sides of each place where it crosses the crown's rim.
    """

    path: LineString
    clearance_px: float
    between: list[tuple[str, str]] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Tree:
    """A part and how it is split: a leaf is a piece.

    Attributes
    ----------
    leaves : list of Part
        The pieces, clockwise within their part.
    worth : Worth
        Of all pieces together.
    purpose : str
        Of the split; empty for a leaf.
    stroke : Stroke or None
        The split.
    branches : tuple of Tree
        The two halves, or none.
    closed : list of (str, str)
        Tubers or stems between which no stroke keeps the rules.
    """

    leaves: list[Part]
    worth: Worth
    purpose: str = ""
    stroke: Stroke | None = None
    branches: "tuple[Tree, ...]" = ()
    closed: list[tuple[str, str]] = field(default_factory=list)

    def splits(self) -> "Iterator[Tree]":
        """Go through the splits as a hand works: halves first, then smaller."""
        level: list[Tree] = [self]
        while level:
            cut = [tree for tree in level if tree.branches]
            yield from cut
            level = [branch for tree in cut for branch in tree.branches]

    def closed_gaps(self) -> list[tuple[str, str]]:
        """Return all gaps that no stroke can pass."""
        found = list(self.closed)
        for branch in self.branches:
            found += branch.closed_gaps()
        return found


def leaf(part: Part, rules: Rules) -> Tree:
    """Return `part` as one piece."""
    weight = sum(weight_of(eye.chance) for eye in part.eyes)
    sound = sum(unit.sound for unit in part.units)
    safe = is_safe(weight, sound, rules.value("safe_eye_chance"))
    return Tree([part], Worth(int(safe), -int(not safe), 0.0))


def whole_part(
    cleaned: Cleaned, crown: Polygon, eyes: Sequence[Eye], rules: Rules, ppm: float
) -> Part:
    """Gather what is left after cleaning into one part.

    Parameters
    ----------
    cleaned : Cleaned
        What stays.
    crown : Polygon
        The crown; may be empty.
    eyes : sequence of Eye
        The eyes that count and did not leave.
    rules : Rules
        The rules.
    ppm : float
        px per mm.

    Returns
    -------
    Part
        With every tuber that stays in exactly one unit.
    """
    core = Polygon()
    if not crown.is_empty:
        # Crown and stem meet along a slit; a stroke must not slip through it.
        whole = joined([crown, *(stem.shape for stem in cleaned.stems)])
        core = clockwise_ring(closed(whole, NOTCH_MM * ppm))
    units = [
        _unit(body, cleaned.bodies, core, rules)
        for body in cleaned.bodies.values()
        if body.host == CROWN or body.host not in cleaned.bodies
    ]
    rider = {}
    for eye in eyes:
        unit = _carrier(eye, units, core, ON_BODY_MM * ppm)
        if unit is not None:
            rider[eye.id] = unit
    return Part(core, units, list(eyes), list(cleaned.stems), rider)


def _unit(body: Body, bodies: dict[str, Body], core: Polygon, rules: Rules) -> Unit:
    members = [body, *(bodies[name] for name in hanging_on(bodies, body.id))]
    return Unit(
        [member.id for member in members],
        joined([member.shape for member in members]),
        _place(body, core),
        any(is_sound(member, rules) for member in members),
        sum(volume_ml(member) for member in members),
    )


def is_sound(body: Body, rules: Rules) -> bool:
    """Whether a body is large enough to be worth its room; unknown sizes count."""
    if body.tuber is None:
        return False
    wide, long = body.tuber.max_diameter_mm, body.tuber.length_mm
    too_thin = wide < rules.value("smallest_body_diameter_mm")
    too_short = long < rules.value("smallest_body_length_mm")
    return not (too_thin or too_short)


def volume_ml(body: Body) -> float:
    """Return the volume that is left of a body; 0 if it is not known."""
    if body.tuber is None or not np.isfinite(body.tuber.volume_ml):
        return 0.0
    return float(body.tuber.volume_ml) * body.kept_share


def _place(body: Body, core: Polygon) -> Point:
    """Return the place on the core's outline where a body leaves it."""
    if not body.axis.is_empty:
        neck = body.axis.interpolate(body.exit_px)
    elif body.tuber is not None and np.isfinite(body.tuber.neck_rc_px).all():
        neck = Point(np.asarray(body.tuber.neck_rc_px).ravel()[:2])
    else:
        neck = body.shape.centroid if not body.shape.is_empty else Point(0, 0)
    if core.is_empty:
        return neck
    crossings = [
        part
        for part in shapely.get_parts(body.shape.intersection(core.exterior))
        if part.length > 0
    ]
    if crossings:
        neck = min(crossings, key=neck.distance).interpolate(0.5, normalized=True)
    ring = core.exterior
    return ring.interpolate(ring.project(neck))


def _carrier(
    eye: Eye, units: Sequence[Unit], core: Polygon, near_px: float
) -> Unit | None:
    """Return the unit that carries an eye off the core; None if the core does."""
    if core.covers(eye.place):
        return None
    solid = [unit for unit in units if not unit.shape.is_empty]
    for unit in solid:
        own = eye.belongs_to in unit.tubers
        if own and unit.shape.distance(eye.place) <= near_px:
            return unit
    return min(solid, key=lambda unit: unit.shape.distance(eye.place), default=None)
