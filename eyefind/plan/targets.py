"""Which part of the clump a flag of removal points at, and where it is to be cut."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from eyefind.data import Flag, Kind
from eyefind.plan import words
from eyefind.plan.parts import CROWN, Body, Clump, StemPart, make_body
from eyefind.plan.shapes import polygon
from eyefind.plan.standing import placed
from eyefind.rules import Rules

ORDER: tuple[Kind, ...] = (
    "spent_parent",
    "soft",
    "tuber_on_tuber",
    "rat_tail",
    "broken_neck",
)
"""The order in which a hand takes things off."""
SAME_SHARE = 0.5
"""Two outlines that share this part of the smaller one are the same thing."""
TAPER = 2.5
"""A tail is cut where it is at most this many times as thick as the rule's tail."""
NEAR_MM = 5.0
"""A flag without an owner belongs to a part at most this far away."""


@dataclass(frozen=True, eq=False)
class Target:
    """What a flag of removal asks for.

    Attributes
    ----------
    flag : Flag
        The flag.
    what : str
        The part in words.
    body : Body or None
        The tuber it is or lies on; or the flag's own outline as a body.
    stem : StemPart or None
        The stem that a soft place lies on.
    whole : bool
        Whether the whole body comes off; else it is trimmed at `at_px`.
    at_px : float
        Where along the axis of body or stem the cut is wanted.
    patch : Polygon or None
        The soft place.
    """

    flag: Flag
    what: str
    body: Body | None = None
    stem: StemPart | None = None
    whole: bool = True
    at_px: float = 0.0
    patch: Polygon | None = None


def find_targets(
    flags: Sequence[Flag], clump: Clump, rules: Rules
) -> tuple[list[Target], list[str]]:
    """Find what each flag points at.

    Parameters
    ----------
    flags : sequence of Flag
        Flags of removal that are to be cut.
    clump : Clump
        The clump.
    rules : Rules
        The rules.

    Returns
    -------
    targets : list of Target
        In the order of work; a body that leaves whole is named once.
    warnings : list of str
        One for each flag that points at nothing that can be cut.
    """
    targets, warnings, whole = [], [], set()
    for flag in sorted(flags, key=lambda flag: ORDER.index(flag.kind)):
        target = _target(flag, clump, rules)
        if isinstance(target, str):
            warnings.append(target)
        elif target.body is None or target.body.id not in whole:
            targets.append(target)
            if target.whole and target.body is not None:
                whole.add(target.body.id)
    return targets, warnings


def _target(flag: Flag, clump: Clump, rules: Rules) -> Target | str:
    if flag.kind == "soft":
        return _soft(flag, clump, rules)
    body = _owner(flag, clump)
    if body is None:
        return words.cannot_place(flag.id, flag.kind)
    if flag.kind == "rat_tail":
        return _tail(flag, body, clump, rules)
    shape = _own_shape(flag)
    on_body = body.id in clump.bodies and flag.belongs_to != body.id
    if on_body and not shape.is_empty and not _fills(shape, body):
        # A little of it shows on another tuber, which must not leave for it.
        body = make_body(flag.id, body.id, shape, body.shape, clump.px_per_mm)
    what = body.id if body.id in clump.bodies else "the flagged part"
    return Target(flag, what, body)


def _fills(shape: Polygon, body: Body) -> bool:
    shared = shape.intersection(body.shape).area
    return bool(shared >= SAME_SHARE * body.shape.area)


def _owner(flag: Flag, clump: Clump) -> Body | None:
    """Return the tuber that a flag is about, or the flag's own outline as a body."""
    if flag.belongs_to in clump.bodies:
        return clump.bodies[flag.belongs_to]
    shape = _own_shape(flag)
    if not shape.is_empty:
        same = _most_shared(shape, clump)
        return same or make_body(flag.id, CROWN, shape, clump.crown, clump.px_per_mm)
    if not placed(flag):
        return None
    place = Point(flag.row_px, flag.col_px)
    bodies = [body for body in clump.bodies.values() if not body.shape.is_empty]
    near = min(bodies, key=lambda body: body.shape.distance(place), default=None)
    if near is None or near.shape.distance(place) > NEAR_MM * clump.px_per_mm:
        return None
    return near


def _own_shape(flag: Flag) -> Polygon:
    return Polygon() if flag.outline_px is None else polygon(flag.outline_px)


def _most_shared(shape: Polygon, clump: Clump) -> Body | None:
    best, most = None, SAME_SHARE
    for body in clump.bodies.values():
        smaller = min(shape.area, body.shape.area)
        if smaller <= 0:
            continue
        share = shape.intersection(body.shape).area / smaller
        if share >= most:
            best, most = body, share
    return best


def _tail(flag: Flag, body: Body, clump: Clump, rules: Rules) -> Target | str:
    """Trim a thin end; take off whole only what is thin all over."""
    shape, ppm = _own_shape(flag), clump.px_per_mm
    if body.id not in clump.bodies:
        return Target(flag, "the thin root", body)
    if not shape.is_empty:
        shared = shape.intersection(body.shape).area
        if shared < SAME_SHARE * shape.area:
            own = make_body(flag.id, body.id, shape, body.shape, ppm)
            return Target(flag, f"the thin root on {body.id}", own)
        at_px = _first_along(body.axis, shape)
    elif placed(flag) and not body.axis.is_empty:
        place = Point(flag.row_px, flag.col_px)
        half_px = flag.size_mm / 2 * ppm if np.isfinite(flag.size_mm) else 0.0
        at_px = float(body.axis.project(place)) - half_px
    else:
        return words.cannot_place(flag.id, flag.kind)
    if at_px >= body.neck_px + rules.value("smallest_body_length_mm") * ppm:
        return Target(flag, body.id, body, whole=False, at_px=at_px)
    # It begins so near the neck because all is thin, or because it curls back there.
    thick_mm = np.nan if body.tuber is None else body.tuber.max_diameter_mm
    if thick_mm <= rules.value("rat_tail_diameter_mm"):
        return Target(flag, body.id, body)
    return words.thick_body(body.id, flag.id)


def is_thin(thickness_mm: float, rules: Rules) -> bool:
    """Whether a tail may be cut here: where it is thicker, it is a tuber."""
    return thickness_mm <= TAPER * rules.value("rat_tail_diameter_mm")


def _soft(flag: Flag, clump: Clump, rules: Rules) -> Target | str:
    """Soft flesh is cut back; a tuber comes off if too little of it would be left."""
    ppm = clump.px_per_mm
    patch = _own_shape(flag)
    if patch.is_empty:
        if not placed(flag):
            return words.cannot_place(flag.id, flag.kind)
        size_mm = flag.size_mm if np.isfinite(flag.size_mm) else 0.0
        patch = Point(flag.row_px, flag.col_px).buffer(max(size_mm, 1.0) / 2 * ppm)
    margin_px = rules.value("soft_margin_mm") * ppm
    body = clump.bodies.get(flag.belongs_to or "") or _most_shared(patch, clump)
    if body is not None:
        at_px = _first_along(body.axis, patch) - margin_px
        least = rules.value("smallest_body_length_mm") * ppm
        whole = at_px < body.neck_px + least
        return Target(flag, body.id, body, None, whole, max(at_px, 0.0), patch)
    for stem in clump.stems:
        lies_on = patch.intersection(stem.shape).area >= SAME_SHARE * patch.area
        if stem.id == flag.belongs_to or lies_on:
            at_px = _first_along(stem.axis, patch) - margin_px
            what = f"stem {stem.id}"
            return Target(flag, what, None, stem, False, max(at_px, 0.0), patch)
    if placed(flag) and clump.crown.covers(Point(flag.row_px, flag.col_px)):
        return words.soft_crown(flag.id)
    return words.cannot_place(flag.id, flag.kind)


def _first_along(axis: LineString, shape: Polygon) -> float:
    """Return where along an axis a shape begins, px; 0 if there is no axis."""
    if axis.is_empty or shape.is_empty:
        return 0.0
    corners = shapely.points(shapely.get_coordinates(shape))
    return float(shapely.line_locate_point(axis, corners).min())
