"""What a glance from a hub shows: open gaps, for hundreds of hubs at once.

An obstacle blocks the angle that it fills as seen from a hub. That is quick to tell and
nearly right: it takes no notice of notches in the crown's rim, and directions are told
apart by a third of a degree. So it only chooses hubs; `Fan` draws the strokes to them.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from eyefind.data import Points
from eyefind.plan.fan import OUTSIDE_MM, Fan

BINS = 1024
"""Directions that are told apart: a third of a degree."""
ROUGH_MM = 0.2
"""Outlines of obstacles are simplified to this."""

Turns = NDArray[np.float32]


def promising(fan: Fan, hubs_rc: Points, most: int) -> Points:
    """Choose the hubs around which most gaps look open.

    Parameters
    ----------
    fan : Fan
        Knows where a blade may enter, and what is in its way.
    hubs_rc : (N, 2) array
        Places to choose from, none of them blocked.
    most : int
        How many are wanted.

    Returns
    -------
    (M, 2) array
        The best of each kind come first, then the second of each, and so on: hubs are
        of one kind if the same gaps look open, past as many eyes. Which they are
        depends on shapes alone, never on the eyes' chances.
    """
    if not len(fan.entries) or not len(hubs_rc):
        return np.empty((0, 2))
    to = _turns(hubs_rc, fan.entries)
    free = _free(fan, hubs_rc, to)
    gaps, open_ = _open_gaps(fan, hubs_rc, to, free)
    order = np.lexsort([-free.sum(axis=1), -open_.sum(axis=1), -gaps])
    order = order[open_.sum(axis=1)[order] > 1]
    kinds = np.packbits(open_[order], axis=1)
    _, kind, count = np.unique(kinds, axis=0, return_inverse=True, return_counts=True)
    turn = np.empty(len(order), dtype=np.intp)
    first = np.repeat(np.cumsum(count) - count, count)
    turn[np.argsort(kind, kind="stable")] = np.arange(len(order)) - first
    chosen: Points = hubs_rc[order[np.argsort(turn, kind="stable")[:most]]]
    return chosen


def _turns(hubs_rc: Points, points_rc: Points) -> Turns:
    """Return the direction of each point (M) from each hub (N), 0 to 1 clockwise."""
    hubs, points = hubs_rc.astype(np.float32).T, points_rc.astype(np.float32).T
    across, up = points[1] - hubs[1][:, None], hubs[0][:, None] - points[0]
    turns: Turns = np.arctan2(across, up) / np.float32(2 * np.pi)
    return turns + (turns < 0)


def _free(fan: Fan, hubs_rc: Points, to: Turns) -> NDArray[np.bool_]:
    """Say from which hubs the way to which entries looks free."""
    reach = fan.part.core.buffer(OUTSIDE_MM * fan.px_per_mm)
    near = shapely.intersection(fan.blocked, reach)
    near = near.simplify(ROUGH_MM * fan.px_per_mm)
    obstacles = shapely.get_parts(near)
    rings = shapely.get_exterior_ring(obstacles[shapely.get_dimensions(obstacles) == 2])
    corners, owner = shapely.get_coordinates(rings, return_index=True)
    if not len(corners):
        return np.ones(to.shape, dtype=bool)
    first = np.flatnonzero(np.diff(owner, prepend=-1))
    angle = _turns(hubs_rc, corners)
    step = np.diff(angle, axis=1, prepend=angle[:, :1])
    step -= np.rint(step)
    step[:, first] = 0
    # How far each outline has turned around the hub, corner by corner.
    turned = np.cumsum(step, axis=1)
    start = angle[:, first] - turned[:, first]
    low = start + np.minimum.reduceat(turned, first, axis=1)
    high = start + np.maximum.reduceat(turned, first, axis=1)
    begin, end = (np.rint(x * BINS).astype(np.intp) for x in (low, high))
    # Obstacles begin and end in these directions; some lie across the first of them.
    depth = _counts(begin) - _counts(end)
    depth[:, 0] += (end // BINS - begin // BINS).sum(axis=1)
    covered = np.cumsum(depth, axis=1) > 0
    free: NDArray[np.bool_] = ~np.take_along_axis(covered, _bins(to), axis=1)
    return free


def _open_gaps(
    fan: Fan, hubs_rc: Points, to: Turns, free: NDArray[np.bool_]
) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Count the open gaps between tubers; and say which are open, eyes told apart."""
    items, eyes = len(fan.rim), fan.eyes_on_core
    passed = np.searchsorted(np.sort(list(fan.rim.values())), fan.along) % items
    count = max(len(eyes), 1)
    before = np.cumsum(_counts(_bins(_turns(hubs_rc, eyes))), axis=1)
    eye = np.take_along_axis(before, _bins(to), axis=1)
    eye = (eye - eye[:, :1]) % count
    open_ = np.zeros((len(hubs_rc), items * count), dtype=bool)
    hub, entry = np.nonzero(free)
    open_[hub, passed[entry] * count + eye[hub, entry]] = True
    gaps = open_.reshape(len(hubs_rc), items, count).any(axis=2).sum(axis=1)
    return gaps, open_


def _bins(turns: Turns) -> NDArray[np.intp]:
    return (turns * BINS).astype(np.intp) % BINS


def _counts(bins: NDArray[np.intp]) -> NDArray[np.intp]:
    """Count for each hub how many of its numbers (N, K) fall into each direction."""
    rows = np.arange(len(bins))[:, None] * BINS
    flat = (bins % BINS + rows).ravel()
    return np.bincount(flat, minlength=len(bins) * BINS).reshape(len(bins), BINS)
