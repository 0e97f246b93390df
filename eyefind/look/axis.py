"""The medial axis of one part and its width along it; neck, length and volume."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.graph import MCP_Geometric

from eyefind.data import Mask, Points
from eyefind.look.views import Plane

STEP_MM = 1.0
"""Distance of the axis' points."""
SMOOTH_MM = 5.0
"""Standard deviation of the smoothing along the axis."""
END_SHARE = 0.5
"""The axis runs on straight over the last half body width: the shortest way to a far
corner of the tip bends there."""
TRACE_PX = 12_000
"""Pixels in which the axis is traced; more only costs time."""


@dataclass(frozen=True, eq=False)
class Axis:
    """Medial axis of a part from where it is attached to its far end.

    Attributes
    ----------
    points_rc : (M, 2) array
        Working px, about `STEP_MM` apart.
    width_mm : (M,) array
        Width of the part across the axis at each point.
    step_mm : float
        Distance of the points.
    """

    points_rc: Points
    width_mm: NDArray[np.float64]
    step_mm: float

    @property
    def length_mm(self) -> float:
        """Length of the whole axis."""
        return self.step_mm * (len(self.points_rc) - 1)

    @property
    def straightness(self) -> float:
        """Distance of the ends divided by the length: 1 is straight."""
        chord = np.hypot(*(self.points_rc[-1] - self.points_rc[0]))
        arc = np.hypot(*np.diff(self.points_rc, axis=0).T).sum()
        return float(chord / arc) if arc > 0 else 1.0


def trace(part: Mask, host: Mask, start_rc: Points, px_per_mm: float) -> Axis:
    """Trace the medial axis of a part.

    The way from the attachment to the farthest point that keeps to the middle (least
    cost, cost falling with depth), smoothed, run out straight to the tip and shifted
    to the middle between both sides.

    Parameters
    ----------
    part : (h, w) bool array
        The part, not empty.
    host : (h, w) bool array
        What it is attached to: no outline of the part runs between them.
    start_rc : (2,) array
        Where it is attached, working px.
    px_per_mm : float
        Scale.

    Returns
    -------
    Axis
        At least two points.
    """
    left, top, width, height = cv2.boundingRect(part.astype(np.uint8))
    corner = np.array([top - 1, left - 1])
    cut = np.pad(part[top : top + height, left : left + width], 1)
    start = _nearest_inside(cut, start_rc - corner)
    path = _middle_way(cut, start)
    step = STEP_MM * px_per_mm
    path = _resampled(path, step)
    sigma = min(SMOOTH_MM * px_per_mm / step, len(path) / 6)
    path = _smoothed(path, sigma)
    path = _run_out(cut, path, step)
    for _ in range(2):
        path = _resampled(_smoothed(_centred(cut, path), sigma / 2), step)
    path = _run_out(cut, path, step)
    whole = np.pad((part | host)[top : top + height, left : left + width], 1)
    widths = np.sum(_reach(whole, path), axis=0) / px_per_mm
    return Axis(path + corner, widths, step / px_per_mm)


def neck_index(width_mm: NDArray[np.float64]) -> int:
    """Find the neck: the narrowest place between the attachment and the body.

    Parameters
    ----------
    width_mm : (M,) array
        Widths from the attachment on.

    Returns
    -------
    int
        Index of the neck; 0 when the body begins at once.
    """
    body = int(np.argmax(width_mm))
    if body == 0:
        # Wider at its base than anywhere: look for a waist further out.
        later = ndimage.minimum_filter1d(width_mm, 3)
        body = int(np.argmax(width_mm - np.minimum.accumulate(later)))
    return int(np.argmin(width_mm[: body + 1]))


def solid_volume_ml(width_mm: NDArray[np.float64], step_mm: float) -> float:
    """Volume of the solid of revolution with these widths.

    Parameters
    ----------
    width_mm : (M,) array
        Diameters along the axis.
    step_mm : float
        Their distance.

    Returns
    -------
    float
        Millilitres.
    """
    return float(np.trapezoid(np.pi / 4 * width_mm**2, dx=step_mm) / 1000)


def _nearest_inside(part: Mask, place: Points) -> tuple[int, int]:
    inside = np.argwhere(part)
    nearest = inside[np.argmin(np.sum((inside - place) ** 2, axis=1))]
    return int(nearest[0]), int(nearest[1])


def _middle_way(part: Mask, start: tuple[int, int]) -> Points:
    """Least-cost way from `start` to the farthest pixel, keeping to the middle."""
    less = max(1, int(np.ceil((part.size / TRACE_PX) ** 0.5)))
    small = part[::less, ::less].copy()
    begin = start[0] // less, start[1] // less
    small[begin] = True
    far = MCP_Geometric(np.where(small, 1.0, -1.0), fully_connected=True)
    away, _ = far.find_costs([begin])
    away = np.where(np.isfinite(away) & small, away, -1)
    tip = np.unravel_index(int(np.argmax(away)), away.shape)
    depth = cv2.distanceTransform(small.astype(np.uint8), cv2.DIST_L2, 5)
    cost = np.where(small, (depth.max() / np.maximum(depth, 0.5)) ** 2, -1.0)
    middle = MCP_Geometric(cost, fully_connected=True)
    middle.find_costs([begin], [tip])
    return np.asarray(middle.traceback(tip), float) * less


def _resampled(path: Points, step: float) -> Points:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    if along[-1] == 0:
        path, along = np.add(path[:1], [[0.0, 0.0], [0.0, 1.0]]), np.array([0.0, 1.0])
    count = max(2, round(along[-1] / step) + 1)
    at = np.linspace(0, along[-1], count)
    return np.stack([np.interp(at, along, path[:, i]) for i in range(2)], axis=1)


def _smoothed(path: Points, sigma: float) -> Points:
    """Smooth a path without drawing its ends in."""
    if sigma < 0.3 or len(path) < 4:
        return path
    line = np.linspace(path[0], path[-1], len(path))
    return np.asarray(
        line + ndimage.gaussian_filter1d(path - line, sigma, axis=0, mode="mirror")
    )


def _run_out(part: Mask, path: Points, step: float) -> Points:
    """Replace the last stretch by a straight run to the far outline."""
    last = float(np.sum(_reach(part, path), axis=0).max()) * END_SHARE
    keep = max(2, len(path) - max(1, round(last / step)))
    back = max(0, keep - 1 - max(2, round(last / step)))
    heading = path[keep - 1] - path[back]
    length = np.hypot(*heading)
    if length == 0:
        return path
    ahead = np.arange(1, sum(part.shape), dtype=np.float32) * 0.5
    way = heading[None] / length
    inside = _rays(part, path[keep - 1 : keep], way, ahead)[0]
    out = len(inside) if inside.all() else int(np.argmin(inside))
    run = path[keep - 1] + ahead[:out, None] * way
    return _resampled(np.concatenate([path[:keep], run]), step)


def _across(path: Points) -> Points:
    along = np.gradient(path, axis=0)
    along /= np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    return np.stack([-along[:, 1], along[:, 0]], axis=1)


def _reach(part: Mask, path: Points) -> NDArray[np.float64]:
    """Distance from each point to the outline on both sides, px; (2, M)."""
    across = _across(path)
    far = int(np.ceil(2 * cv2.distanceTransform(part.astype(np.uint8), 2, 5).max()))
    out = np.arange(0, far + 1, 0.25, dtype=np.float32)
    sides = []
    for way in (across, -across):
        inside = _rays(part, path, way, out)
        inside[:, -1] = False
        sides.append(out[np.argmin(inside, axis=1)])
    return np.array(sides)


def _centred(part: Mask, path: Points) -> Points:
    right, left = _reach(part, path)
    shift = (right - left) / 2
    shift[0] = shift[-1] = 0.0
    return path + shift[:, None] * _across(path)


def _rays(part: Mask, start: Points, way: Points, out: Plane) -> Mask:
    """Say where rays lie in the part, to a fraction of a pixel.

    Row n of the answer is the ray from `start[n]`, its places `out` times `way[n]`.
    """
    rows, cols = (
        np.float32(start[:, i, None]) + np.float32(way[:, i, None]) * out
        for i in range(2)
    )
    share = cv2.remap(part.astype(np.float32), cols, rows, cv2.INTER_LINEAR)
    return np.asarray(share > 0.5)
