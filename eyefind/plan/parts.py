"""The clump made ready for planning: sound shapes that all hang on something."""

from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.ops import nearest_points, substring

from eyefind.data import Anatomy, Points, Scale, Stem, Tuber
from eyefind.plan.shapes import (
    clean_line,
    joined,
    largest,
    places_along,
    polygon,
    smoothed,
)

CROWN = "crown"
DETAIL_MM = 0.2
"""Outlines are simplified to this; a blade is thicker."""
NOTCH_MM = 1.0
"""Notches and spikes of the crown's outline narrower than twice this are noise."""
STEP_MM = 0.5
"""Spacing at which an axis is looked at."""
NECK_MM = (1.0, 14.0)
"""Least and greatest width of a neck that cuts keep clear of; no published figure."""
FAR_MM = 15.0
"""A tuber drawn farther from what it hangs on has a neck that nobody can see."""


@dataclass(frozen=True, eq=False)
class Body:
    """A tuber, or another part with an outline of its own.

    Attributes
    ----------
    id : str
        The tuber's id, or that of the flag whose outline it is.
    host : str
        ``"crown"`` or the id of another body.
    shape : Polygon
        Visible outline and a strip for what is hidden of its neck; may be empty.
    axis : LineString
        From the crown end to the tip; may be empty.
    exit_px, neck_px : float
        Where along the axis it leaves its host, and where its neck is.
    tuber : Tuber or None
        Its measures.
    kept_share : float
        Share of its volume that is left after trimming.
    root : Polygon
        Where it goes on under the rim of its host, unseen; may be empty.
    """

    id: str
    host: str
    shape: Polygon
    axis: LineString
    exit_px: float
    neck_px: float
    tuber: Tuber | None
    kept_share: float = 1.0
    root: Polygon = field(default_factory=Polygon)


@dataclass(frozen=True, eq=False)
class StemPart:
    """A stem.

    Attributes
    ----------
    id : str
        The stem's id.
    shape : Polygon
        Not empty.
    axis : LineString
        From the crown to the cut end; may be empty.
    exit_px : float
        Where along the axis it leaves the crown.
    diameter_px : float
        Median width across the axis.
    """

    id: str
    shape: Polygon
    axis: LineString
    exit_px: float
    diameter_px: float

    @property
    def end_on(self) -> bool:
        """Whether it is short or points at the camera: no length to be measured."""
        return bool(self.axis.length - self.exit_px < self.diameter_px)

    def as_body(self) -> Body:
        """Return it as a body, so that it can be cut across."""
        where = self.exit_px
        return Body(self.id, CROWN, self.shape, self.axis, where, where, None)


@dataclass(frozen=True, eq=False)
class Clump:
    """All parts of one clump.

    Attributes
    ----------
    px_per_mm : float
        Scale.
    outline, crown : Polygon
        May be empty.
    stems : list of StemPart
        The stems that have a shape.
    bodies : dict of str to Body
        Every tuber by its id.
    unattached : list of str
        Tubers whose neck nobody can see.
    """

    px_per_mm: float
    outline: Polygon
    crown: Polygon
    stems: list[StemPart]
    bodies: dict[str, Body]
    unattached: list[str]


def read_clump(anatomy: Anatomy, scale: Scale) -> Clump:
    """Make an anatomy ready for planning, whatever state its outlines are in."""
    ppm = scale.px_per_mm
    detail = DETAIL_MM * ppm
    crown = polygon(anatomy.crown_outline_px, detail)
    if not crown.is_empty:
        crown = smoothed(crown, NOTCH_MM * ppm)
    stems = [_stem(stem, crown, ppm, detail) for stem in anatomy.stems]
    hosts = _hosts(anatomy.tubers)
    shapes = {t.id: polygon(t.outline_px, detail) for t in anatomy.tubers}
    bodies, unattached = {}, []
    for tuber in anatomy.tubers:
        host = hosts[tuber.id]
        host_shape = crown if host == CROWN else shapes[host]
        shape = shapes[tuber.id]
        if _apart(shape, host_shape) > FAR_MM * ppm:
            unattached.append(tuber.id)
        bodies[tuber.id] = make_body(tuber.id, host, shape, host_shape, ppm, tuber)
    outline = polygon(anatomy.clump_outline_px, detail)
    if outline.is_empty:
        outline = joined([crown, *shapes.values(), *(s.shape for s in stems)])
    whole = [stem for stem in stems if not stem.shape.is_empty]
    return Clump(ppm, outline, crown, whole, bodies, unattached)


def make_body(
    name: str,
    host: str,
    shape: Polygon,
    host_shape: Polygon,
    px_per_mm: float,
    tuber: Tuber | None = None,
) -> Body:
    """Build a body from its outline; without an axis, one is drawn from its host."""
    axis = clean_line(tuber.axis_px) if tuber else LineString()
    if axis.is_empty and not shape.is_empty:
        axis = _drawn_axis(shape, host_shape)
    exit_px = _exit(axis, host_shape, px_per_mm)
    neck_px = exit_px
    if tuber and not axis.is_empty and np.isfinite(tuber.neck_rc_px).all():
        neck = Point(np.asarray(tuber.neck_rc_px).ravel()[:2])
        neck_px = max(float(axis.project(neck)), exit_px)
    root = Polygon()
    if tuber and not shape.is_empty:
        shape = _with_neck(shape, host_shape, tuber, px_per_mm)
        if not axis.is_empty:
            half_px = _half_neck_px(tuber, px_per_mm)
            root = substring(axis, 0.0, neck_px).buffer(half_px, quad_segs=4)
    return Body(name, host, shape, axis, exit_px, neck_px, tuber, root=root)


def hanging_on(bodies: dict[str, Body], name: str) -> list[str]:
    """Return the ids of everything that grows from body `name`, near ones first."""
    found = [name]
    for host in found:
        found += [b.id for b in bodies.values() if b.host == host and b.id not in found]
    return found[1:]


def by_number(name: str) -> tuple[int, str]:
    """Sort ids as a person does: T2 before T10."""
    digits = "".join(filter(str.isdecimal, name))
    return int(digits) if digits else 0, name


def trimmed(body: Body, stays: Polygon, at_px: float) -> Body:
    """Return `body` after everything beyond `at_px` along its axis was cut off."""
    return replace(body, shape=stays, kept_share=_share_before(body, at_px))


def _share_before(body: Body, at_px: float) -> float:
    """Share of a solid of revolution that lies before a place on its axis."""
    if body.tuber is None or len(body.tuber.width_mm) != len(body.axis.coords):
        return min(at_px / body.axis.length, 1.0) if body.axis.length else 1.0
    points = np.asarray(body.axis.coords)
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    section = np.nan_to_num(np.asarray(body.tuber.width_mm, dtype=np.float64)) ** 2
    volume = np.concatenate([[0.0], np.cumsum(steps * (section[1:] + section[:-1]))])
    if volume[-1] <= 0:
        return 1.0
    return float(np.interp(at_px, along, volume) / volume[-1])


def _apart(shape: Polygon, host_shape: Polygon) -> float:
    if shape.is_empty or host_shape.is_empty:
        return 0.0
    return float(shape.distance(host_shape))


def _half_neck_px(tuber: Tuber, ppm: float) -> float:
    width_mm = tuber.neck_width_mm if np.isfinite(tuber.neck_width_mm) else 0.0
    return float(np.clip(width_mm, *NECK_MM) / 2 * ppm)


def _with_neck(
    shape: Polygon, host_shape: Polygon, tuber: Tuber, ppm: float
) -> Polygon:
    """Add what other parts hide of a neck: a strip to its place, and on to the host."""
    half_px = _half_neck_px(tuber, ppm)
    neck = np.asarray(tuber.neck_rc_px, dtype=np.float64).ravel()[:2]
    hidden = [Point(neck)] if np.isfinite(neck).all() else []
    hidden += [host_shape] if _apart(shape, host_shape) > 0 else []
    for end in hidden:
        strip = shapely.shortest_line(shape, end).buffer(half_px)
        shape = largest(shapely.union_all([shape, strip]))
    return shape


def _stem(stem: Stem, crown: Polygon, ppm: float, detail: float) -> StemPart:
    shape, axis = polygon(stem.outline_px, detail), clean_line(stem.axis_px)
    diameter = stem.diameter_mm * ppm
    if not np.isfinite(diameter) or diameter <= 0:
        diameter = np.sqrt(shape.area)
    return StemPart(stem.id, shape, axis, _exit(axis, crown, ppm), float(diameter))


def _hosts(tubers: list[Tuber]) -> dict[str, str]:
    """Say what each tuber hangs on: a tuber, or else the crown (stems included)."""
    named = {tuber.id: tuber.attached_to for tuber in tubers}
    hosts = {}
    for tuber in tubers:
        seen, place = {tuber.id}, named[tuber.id]
        while place in named and place not in seen:
            seen.add(place)
            place = named[place]
        in_a_circle = place in seen
        direct = named[tuber.id]
        hosts[tuber.id] = CROWN if in_a_circle or direct not in named else direct
    return hosts


def _drawn_axis(shape: Polygon, host_shape: Polygon) -> LineString:
    corners: Points = np.asarray(shape.exterior.coords)
    if host_shape.is_empty:
        start = corners[0]
    else:
        start = np.asarray(nearest_points(shape, host_shape)[0].coords[0])
    tip = corners[np.argmax(np.hypot(*(corners - start).T))]
    return LineString([start, tip])


def _exit(axis: LineString, host_shape: Polygon, ppm: float) -> float:
    """Return where along the axis its first stretch inside the host ends."""
    if axis.is_empty or host_shape.is_empty:
        return 0.0
    along = np.arange(0.0, axis.length, STEP_MM * ppm)
    shapely.prepare(host_shape)
    inside = shapely.covers(host_shape, shapely.points(places_along(axis, along)))
    if not inside[0]:
        return 0.0
    return float(along[np.argmin(inside)] if not inside.all() else along[-1])
