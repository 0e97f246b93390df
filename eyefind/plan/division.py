"""What is divided: a crown with what hangs on it, and what it falls into."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.ops import nearest_points

from eyefind.plan.drafts import Cleaned
from eyefind.plan.parts import CROWN, NOTCH_MM, Body, StemPart, hanging_on
from eyefind.plan.shapes import clockwise_ring, closed, joined
from eyefind.plan.standing import Eye
from eyefind.plan.worth import Load, weight_of
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
    load : Load
        Its bodies, without eyes.
    volume_ml : float
        Sum over its bodies.
    """

    tubers: list[str]
    shape: Polygon
    place: Point
    load: Load
    volume_ml: float


@dataclass(frozen=True, eq=False)
class Seam:
    """A straight stroke right across the crown, between two stems.

    Attributes
    ----------
    path : LineString
        From rim to rim.
    clearance_px : float
        Room beyond the margins at its tightest place.
    cost : float
        What it costs to cut it, in plants.
    """

    path: LineString
    clearance_px: float
    cost: float


@dataclass(frozen=True, eq=False)
class Part:
    """A part of the clump: all of it, what belongs to one stem, or a piece.

    Attributes
    ----------
    core : Polygon
        Crown and stubs, outline clockwise; empty if no crown was made out.
    units, eyes, stems : list
        What it holds; an eye just off the core has its nearest place there.
    rider : dict of str to Unit
        Eye id -> the unit on whose neck or body it sits, outside the core.
    seams : list of Seam
        Where it has grown together with other parts.
    """

    core: Polygon
    units: list[Unit]
    eyes: list[Eye]
    stems: list[StemPart]
    rider: dict[str, Unit] = field(default_factory=dict)
    seams: list[Seam] = field(default_factory=list)

    def load(self) -> Load:
        """Return what it carries as one piece."""
        return load_of(self.units, self.eyes)


@dataclass(frozen=True, eq=False)
class Split:
    """One cut that divides, in the order of work.

    Attributes
    ----------
    purpose : str
        As in a cut.
    path : LineString
        One or two straight strokes.
    clearance_px : float
        Room beyond the margins at its tightest place.
    between : list of (str, str)
        The tubers on both sides of each place where it crosses the crown's rim.
    sides : (list of int, list of int)
        Numbers of the pieces on its two sides.
    """

    purpose: str
    path: LineString
    clearance_px: float
    between: list[tuple[str, str]]
    sides: tuple[list[int], list[int]]


@dataclass(frozen=True, eq=False)
class Division:
    """What a clump falls into, and the cuts that do it."""

    leaves: list[Part]
    splits: list[Split] = field(default_factory=list)


def load_of(units: Sequence[Unit], eyes: Sequence[Eye]) -> Load:
    """Return what units and eyes carry together."""
    return Load(
        sum(weight_of(eye.chance) for eye in eyes),
        sum(unit.load.bodies for unit in units),
        sum(unit.load.sound for unit in units),
    )


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
    on_part = []
    for eye in eyes:
        unit = _carrier(eye, units, core, ON_BODY_MM * ppm)
        if unit is not None:
            rider[eye.id] = unit
        on_part.append(eye if unit is not None else _on_core(eye, core))
    return Part(core, units, on_part, list(cleaned.stems), rider)


def _unit(body: Body, bodies: dict[str, Body], core: Polygon, rules: Rules) -> Unit:
    members = [body, *(bodies[name] for name in hanging_on(bodies, body.id))]
    return Unit(
        [member.id for member in members],
        joined([member.shape for member in members]),
        _place(body, core),
        Load(
            0.0,
            sum(weight_of(keep_chance(member, rules)) for member in members),
            sum(is_sound(member, rules) for member in members),
        ),
        sum(volume_ml(member) for member in members),
    )


def is_sound(body: Body, rules: Rules) -> bool:
    """Whether a body is large enough to be worth its room; unknown sizes count."""
    if body.tuber is None or body.kept_share < rules.value("least_kept_share"):
        return False
    wide, long = body.tuber.max_diameter_mm, body.tuber.length_mm
    too_thin = wide < rules.value("smallest_body_diameter_mm")
    too_short = long < rules.value("smallest_body_length_mm")
    return not (too_thin or too_short)


def keep_chance(body: Body, rules: Rules) -> float:
    """Return the chance that a body keeps through winter, by its size and neck."""
    if not is_sound(body, rules):
        return rules.value("small_keeps_chance")
    assert body.tuber is not None
    if body.tuber.neck_width_mm < rules.value("thin_neck_mm"):
        return rules.value("thin_neck_keeps_chance")
    return rules.value("sound_keeps_chance")


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
    """Return the unit that carries an eye off the core; None if the core does.

    One that was seen on another side goes with its own tuber wherever that lies. One
    just off the crown's rim, away from its tuber, goes with that place of the rim.
    """
    if eye.side:
        return next(unit for unit in units if eye.belongs_to in unit.tubers)
    if core.covers(eye.place):
        return None
    solid = [unit for unit in units if not unit.shape.is_empty]
    for unit in solid:
        own = eye.belongs_to in unit.tubers
        if own and unit.shape.distance(eye.place) <= near_px:
            return unit
    near = min(solid, key=lambda unit: unit.shape.distance(eye.place), default=None)
    if near is None or core.distance(eye.place) < near.shape.distance(eye.place):
        return None
    return near


def _on_core(eye: Eye, core: Polygon) -> Eye:
    """Return an eye with its place moved onto the core: where it is parted from."""
    if core.is_empty or core.covers(eye.place):
        return eye
    return replace(eye, place=nearest_points(core, eye.place)[0])
