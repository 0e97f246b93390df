"""The anatomy put right by the grower's clicks.

Nothing is looked for anew: the outlines that were found are joined or parted, and what
is measured on them (axis, widths, neck, length, volume) is measured again.
"""

from collections.abc import Iterable
from dataclasses import replace

import cv2
import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.ops import nearest_points, split

from eyefind.data import Anatomy, Mask, Mend, Points, Scale, Stem, Tuber
from eyefind.look.anatomy import measure_stem, measure_tuber
from eyefind.look.axis import Axis, neck_index, trace
from eyefind.look.frame import WORK_PX_PER_MM, Frame
from eyefind.look.limbs import Limb

NEAR_MM = 5.0
"""A click this near to a part means it."""
ROUND_STEM_MM = 15.0
"""Diameter of a stem that is pointed out where no part was made out (from memory: a
stump seen from above is 10 to 25 mm wide)."""
LEAST_SHARE = 0.02
"""A smaller part that a line splits off is a slip."""

Renamed = dict[str, str]
"""New id by former id, of parts that were merged into another."""


def mended(
    anatomy: Anatomy, mends: Iterable[Mend], scale: Scale
) -> tuple[Anatomy, Renamed]:
    """Put an anatomy right.

    Parameters
    ----------
    anatomy : Anatomy
        As it was found.
    mends : iterable of Mend
        What is put right, oldest first. Those that find nothing are passed over: a
        new look may have put it right itself.
    scale : Scale
        px per mm.

    Returns
    -------
    anatomy : Anatomy
        The ids of all parts that stay are those from before.
    renamed : dict of str to str
        New id by former id of the parts that were merged into another.
    """
    renamed: Renamed = {}
    for mend in mends:
        after = mend_once(anatomy, mend, scale)
        if after is not None:
            anatomy, new = after
            renamed = {old: new.get(now, now) for old, now in renamed.items()} | new
    return anatomy, renamed


def mend_once(
    anatomy: Anatomy, mend: Mend, scale: Scale
) -> tuple[Anatomy, Renamed] | None:
    """Put one thing right; None if there is nothing to put right at these places.

    Parameters
    ----------
    anatomy : Anatomy
        The parts.
    mend : Mend
        What is put right.
    scale : Scale
        px per mm.

    Returns
    -------
    (Anatomy, dict) or None
        As from `mended`.
    """
    places = [Point(place) for place in mend.places_px]
    if mend.what == "stem":
        return _as_stem(anatomy, places[0], scale)
    if mend.what == "split":
        return _split(anatomy, LineString(mend.places_px), scale)
    first = tuber_at(anatomy, places[0], scale)
    second = tuber_at(anatomy, places[1], scale)
    if mend.what == "merge":
        if first is None or second is None or first is second:
            return None
        return _merge(anatomy, first, second, scale)
    on_crown = _shape(anatomy.crown_outline_px).covers(places[1])
    host = "crown" if on_crown or second is None else second.id
    if first is None or first is second or (second is None and not on_crown):
        return None
    if host == first.attached_to or _hangs_on(anatomy, host, first.id):
        return None
    tubers = _replaced(anatomy.tubers, {first.id: [replace(first, attached_to=host)]})
    return replace(anatomy, tubers=tubers), {}


def tuber_at(anatomy: Anatomy, place: Point, scale: Scale) -> Tuber | None:
    """Return the tuber at a place, or the nearest within `NEAR_MM`."""
    away = {
        n: _shape(tuber.outline_px).distance(place)
        for n, tuber in enumerate(anatomy.tubers)
    }
    nearest = min(away, key=lambda n: away[n], default=None)
    if nearest is None or away[nearest] > NEAR_MM * scale.px_per_mm:
        return None
    return anatomy.tubers[nearest]


def _as_stem(
    anatomy: Anatomy, place: Point, scale: Scale
) -> tuple[Anatomy, Renamed] | None:
    if any(_shape(stem.outline_px).covers(place) for stem in anatomy.stems):
        return None
    name = _next("S", [stem.id for stem in anatomy.stems])
    on_crown = _shape(anatomy.crown_outline_px).covers(place)
    tuber = None if on_crown else tuber_at(anatomy, place, scale)
    if tuber is None:
        shape = place.buffer(ROUND_STEM_MM / 2 * scale.px_per_mm)
        middle = np.array([[place.x, place.y]])
        # Seen from above it has no length: its axis points at the camera.
        stem = Stem(name, _points(shape), middle.repeat(2, axis=0), ROUND_STEM_MM)
        return replace(anatomy, stems=[*anatomy.stems, stem]), {}
    shape = _shape(tuber.outline_px)
    frame, mask = _frame(shape, scale)
    limb, axis = _traced(frame, mask, tuber.axis_px[0])
    stem = measure_stem(name, frame, limb, axis)
    host = tuber.attached_to if tuber.attached_to != "none" else "crown"
    rest = [
        replace(other, attached_to=host) if other.attached_to == tuber.id else other
        for other in anatomy.tubers
        if other is not tuber
    ]
    return Anatomy(
        anatomy.clump_outline_px,
        anatomy.crown_outline_px,
        [*anatomy.stems, stem],
        rest,
    ), {tuber.id: name}


def _merge(
    anatomy: Anatomy, first: Tuber, second: Tuber, scale: Scale
) -> tuple[Anatomy, Renamed]:
    """Merge two tubers under the id of the one that hangs nearer to the crown."""
    if first.attached_to == second.id:
        first, second = second, first
    shapes = [_shape(first.outline_px), _shape(second.outline_px)]
    gap = LineString(nearest_points(*shapes))
    bridge = max(min(first.max_diameter_mm, second.max_diameter_mm) / 4, 1.0)
    link = gap.buffer(bridge * scale.px_per_mm)
    whole = _largest(shapely.union_all([*shapes, link]))
    one = _measured(first.id, whole, first.axis_px[0], first.attached_to, scale)
    tubers = _replaced(anatomy.tubers, {first.id: [one], second.id: []})
    return replace(anatomy, tubers=_hung(tubers, second.id, first.id)), {
        second.id: first.id
    }


def _split(
    anatomy: Anatomy, line: LineString, scale: Scale
) -> tuple[Anatomy, Renamed] | None:
    """Part the tuber in which the line runs longest."""
    inside = {
        n: line.intersection(_shape(tuber.outline_px)).length
        for n, tuber in enumerate(anatomy.tubers)
    }
    longest = max(inside, key=lambda n: inside[n], default=None)
    if longest is None or not inside[longest] > 0:
        return None
    tuber = anatomy.tubers[longest]
    shape = _shape(tuber.outline_px)
    parts = [_largest(part) for part in split(shape, _through(line, shape)).geoms]
    parts = [part for part in parts if part.area > LEAST_SHARE * shape.area]
    if len(parts) < 2:
        return None
    base = Point(tuber.axis_px[0])
    near, *rest = sorted(parts, key=base.distance)
    crown = _shape(anatomy.crown_outline_px)
    names = [other.id for other in anatomy.tubers]
    new = [_measured(tuber.id, near, tuber.axis_px[0], tuber.attached_to, scale)]
    for part in rest:
        names.append(_next("T", names))
        on_crown = (
            not crown.is_empty and part.distance(crown) <= NEAR_MM * scale.px_per_mm
        )
        host, host_shape = ("crown", crown) if on_crown else (tuber.id, near)
        start = np.array(nearest_points(part, host_shape)[0].coords[0])
        new.append(_measured(names[-1], part, start, host, scale))
    return replace(anatomy, tubers=_replaced(anatomy.tubers, {tuber.id: new})), {}


def _measured(
    name: str, shape: Polygon, start_rc: Points, on: str, scale: Scale
) -> Tuber:
    frame, mask = _frame(shape, scale)
    limb, axis = _traced(frame, mask, start_rc)
    return measure_tuber(name, frame, limb, axis, neck_index(axis.width_mm), on, scale)


def _frame(shape: Polygon, scale: Scale) -> tuple[Frame, Mask]:
    """Draw a shape at the working scale."""
    step = WORK_PX_PER_MM / scale.px_per_mm
    low, high = np.array(shape.bounds).reshape(2, 2)
    corner = low - 2 / step
    rows, cols = (int(side) for side in np.ceil((high - low) * step) + 5)
    drawn = np.zeros((rows, cols), np.uint8)
    corners = np.round((_points(shape) - corner + 0.5) * step - 0.5)
    cv2.fillPoly(drawn, [corners[:, ::-1].astype(np.int32)], 1)
    mask = drawn > 0
    no_colour = np.zeros((rows, cols, 3), np.uint8)
    return Frame(no_colour, mask, WORK_PX_PER_MM, corner, step), mask


def _traced(frame: Frame, mask: Mask, start_rc: Points) -> tuple[Limb, Axis]:
    base = (np.asarray(start_rc) - frame.corner_rc + 0.5) * frame.step - 0.5
    limb = Limb(mask, base, None, 0.0)
    return limb, trace(mask, np.zeros_like(mask), base, frame.px_per_mm)


def _replaced(tubers: list[Tuber], by: dict[str, list[Tuber]]) -> list[Tuber]:
    new = [one for tuber in tubers for one in by.get(tuber.id, [tuber])]
    return sorted(new, key=lambda tuber: int(tuber.id[1:]))


def _hung(tubers: list[Tuber], former: str, host: str) -> list[Tuber]:
    return [
        replace(tuber, attached_to=host) if tuber.attached_to == former else tuber
        for tuber in tubers
    ]


def _hangs_on(anatomy: Anatomy, name: str, host: str) -> bool:
    """Whether a tuber hangs, over however many others, on `host`."""
    on = {tuber.id: tuber.attached_to for tuber in anatomy.tubers}
    for _ in on:
        if name == host:
            return True
        name = on.get(name, "crown")
    return name == host


def _through(line: LineString, shape: Polygon) -> LineString:
    """Draw a line out beyond the shape, so that it parts it."""
    first, last = np.array(line.coords[0]), np.array(line.coords[-1])
    way = (last - first) / max(float(np.hypot(*(last - first))), 1e-9)
    # No farther than it must: it is to part this tuber once, as it was drawn.
    reach = shape.exterior.intersection(
        LineString([first - way * shape.length, last + way * shape.length])
    )
    crossings = shapely.get_coordinates(reach)
    hits = [float(np.dot(crossing - first, way)) for crossing in crossings]
    before = max((hit for hit in hits if hit <= 0), default=-1.0)
    length = float(np.hypot(*(last - first)))
    after = min((hit for hit in hits if hit >= length), default=length + 1.0)
    return LineString([first + way * (before - 1.0), first + way * (after + 1.0)])


def _next(letter: str, taken: list[str]) -> str:
    return f"{letter}{max((int(name[1:]) for name in taken), default=0) + 1}"


def _shape(outline_px: Points) -> Polygon:
    return Polygon() if len(outline_px) < 3 else _largest(Polygon(outline_px))


def _largest(shape: shapely.Geometry) -> Polygon:
    if not shape.is_valid:
        shape = shapely.make_valid(shape)
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon)]
    if not parts:
        return Polygon()
    return Polygon(max(parts, key=lambda part: part.area).exterior)


def _points(shape: Polygon) -> Points:
    return np.asarray(shape.exterior.coords, float)[:-1]
