"""Shapes: from untidy outlines to polygons that can be reasoned with.

Frame: shapely's first axis is the row and its second the column, in px.
"""

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon
from shapely.geometry.polygon import orient
from shapely.ops import nearest_points, split

from eyefind.data import Points

BRIDGE_PX = 1.5
"""Half width of a bridge drawn between parts of one piece that do not touch."""


def polygon(outline_px: Points, tolerance_px: float = 0.0) -> Polygon:
    """Return the largest sound polygon of an outline, without holes; may be empty."""
    points = np.asarray(outline_px, dtype=np.float64).reshape(-1, 2)
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < 3:
        return Polygon()
    shape = Polygon(points)
    return largest(shape.simplify(tolerance_px) if tolerance_px else shape)


def largest(shape: shapely.Geometry) -> Polygon:
    """Return the largest polygon in `shape`, holes filled; empty if there is none."""
    if not shape.is_valid:
        shape = shapely.make_valid(shape, method="structure", keep_collapsed=False)
    flat = shapely.get_parts(shapely.get_parts(shape))
    polygons = [part for part in flat if isinstance(part, Polygon) and part.area > 0]
    if not polygons:
        return Polygon()
    filled = Polygon(max(polygons, key=lambda part: part.area).exterior)
    return filled if filled.is_valid else largest(filled)


def points_of(shape: Polygon) -> Points:
    """Return a polygon's outline, (N, 2), last point not repeated; (0, 2) if empty."""
    if shape.is_empty:
        return np.empty((0, 2))
    return np.asarray(shape.exterior.coords, dtype=np.float64)[:-1]


def clean_line(points_px: Points) -> LineString:
    """Return a line through the finite points; empty if it has no length."""
    points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) < 2 or np.ptp(points, axis=0).max() <= 0:
        return LineString()
    return LineString(points)


def joined(shapes: Iterable[shapely.Geometry]) -> Polygon:
    """Return one polygon over all `shapes`; thin bridges link those that are apart."""
    whole = shapely.union_all([shape for shape in shapes if not shape.is_empty])
    parts = sorted(shapely.get_parts(whole), key=lambda part: -part.area)
    while len(parts) > 1:
        main, rest = parts[0], parts[1:]
        near = min(rest, key=main.distance)
        bridge = LineString(nearest_points(main, near)).buffer(BRIDGE_PX)
        whole = shapely.union_all([whole, bridge])
        fewer = sorted(shapely.get_parts(whole), key=lambda part: -part.area)
        parts = fewer if len(fewer) < len(parts) else [main]
    return largest(parts[0]) if parts else Polygon()


def closed(shape: Polygon, radius_px: float) -> Polygon:
    """Return `shape` with slits narrower than twice `radius_px` filled."""
    filled = shape.buffer(radius_px).buffer(-radius_px).simplify(radius_px / 8)
    return largest(filled)


def smoothed(shape: Polygon, radius_px: float) -> Polygon:
    """Return `shape` with notches and spikes narrower than `radius_px` taken out."""
    closed = shape.buffer(radius_px).buffer(-2 * radius_px).buffer(radius_px)
    smooth = largest(closed.simplify(radius_px / 8))
    return smooth if not smooth.is_empty else shape


def clockwise_ring(shape: Polygon) -> Polygon:
    """Return `shape` with its outline running clockwise as seen on the photo."""
    return orient(shape, sign=-1.0)


def bearing(from_rc: Points, to_rc: Points) -> NDArray[np.float64]:
    """Return the direction of each point in rad: 0 is up, clockwise, 0 to 2 pi."""
    way = np.asarray(to_rc, dtype=np.float64) - np.asarray(from_rc, dtype=np.float64)
    angle: NDArray[np.float64] = np.arctan2(way[..., 1], -way[..., 0]) % (2 * np.pi)
    return angle


def places_along(line: LineString, along_px: NDArray[np.float64]) -> Points:
    """Return the points (N, 2) of a line at lengths along it, px, ascending or not."""
    corners = shapely.get_coordinates(line)
    steps = np.hypot(*np.diff(corners, axis=0).T)
    length = np.concatenate([[0.0], np.cumsum(steps)])
    return np.stack([np.interp(along_px, length, axis) for axis in corners.T], axis=1)


def arc(ring: LineString, start_px: float, end_px: float) -> Points:
    """Return the points of a closed `ring` from one place on it onward to another."""
    corners = shapely.get_coordinates(ring)[:-1]
    steps = np.hypot(*np.diff(corners, axis=0, append=corners[:1]).T)
    along = np.concatenate([[0.0], np.cumsum(steps)[:-1]])
    length = steps.sum()
    span = (end_px - start_px) % length
    past = (along - start_px) % length
    order = np.argsort(past)
    between = order[(past[order] > 0) & (past[order] < span)]
    ends = [ring.interpolate(start_px).coords[0], ring.interpolate(end_px).coords[0]]
    return np.concatenate([ends[:1], corners[between], ends[1:]])


def chords(
    shape: Polygon, places: Points, ways: Points
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return the stretches of straight lines inside `shape` that run through places.

    Parameters
    ----------
    shape : Polygon
        Not empty.
    places, ways : (N, 2) array
        A point of each line and its direction.

    Returns
    -------
    ends : (M, 2, 2) array
        The two ends of each stretch.
    found : (N,) array of bool
        Which lines have one.
    """
    corners = shapely.get_coordinates(shape.exterior)
    size = np.hypot(*ways.T)
    unit = ways / np.where(size > 0, size, 1.0)[:, None]
    off = corners[None] - places[:, None]
    along = off[..., 0] * unit[:, :1] + off[..., 1] * unit[:, 1:]
    across = off[..., 0] * unit[:, 1:] - off[..., 1] * unit[:, :1]
    left = across >= 0
    line, edge = np.nonzero((left[:, :-1] != left[:, 1:]) & (size > 0)[:, None])
    start, end = (line, edge), (line, edge + 1)
    share = across[start] / (across[start] - across[end])
    crossed = np.full(left[:, 1:].shape, np.inf)
    crossed[start] = along[start] + share * (along[end] - along[start])
    crossed.sort(axis=1)
    # Where each line goes into the shape and out of it, again and again.
    most = max(np.isfinite(crossed).sum(axis=1).max(initial=0), 2)
    into, out = crossed[:, 0:most:2], crossed[:, 1:most:2]
    away = np.where(out > into, np.maximum(np.maximum(into, -out), 0), np.inf)
    row, nearest = np.arange(len(away)), away.argmin(axis=1)
    found: NDArray[np.bool_] = np.isfinite(away[row, nearest])
    both = np.stack([into[row, nearest], out[row, nearest]], axis=1)[found]
    return places[found, None] + both[..., None] * unit[found, None], found


def lengthened(line: LineString, by_px: float) -> LineString:
    """Return a straight line drawn out by `by_px` at both ends."""
    first, last = shapely.get_coordinates(line)
    step = (last - first) / np.hypot(*(last - first)) * by_px
    return LineString([first - step, last + step])


def sever(shape: Polygon, path: LineString, stay: Point) -> tuple[Polygon, Polygon]:
    """Cut `shape` along `path`.

    Returns
    -------
    stays, leaves : Polygon
        The part nearest to the point `stay` and the largest other part, which is
        empty when the path does not cut through.
    """
    parts: Sequence[Polygon] = list(split(shape, path).geoms)
    stays = min(parts, key=stay.distance)
    others = [part for part in parts if part is not stays]
    return stays, largest(shapely.union_all(others)) if others else Polygon()


def apart(shapes: Sequence[Polygon]) -> list[Polygon]:
    """Return `shapes` without their overlaps: an earlier one keeps what is shared."""
    free: list[Polygon] = []
    for shape in shapes:
        hit = [other for other in free if shape.intersects(other)]
        free.append(largest(shape.difference(shapely.union_all(hit))) if hit else shape)
    return free
