"""What a glance from a hub shows: open gaps, for hundreds of hubs at once.

An obstacle blocks the angle that it fills as seen from a hub. That is quick to tell and
nearly right: what lies beyond a notch of the crown's rim counts as well. So it chooses
hubs, no more; `Fan` draws the strokes to them.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from eyefind.data import Points
from eyefind.plan.fan import OUTSIDE_MM, Fan

ROUGH_MM = 0.1
"""Outlines of obstacles are simplified to this."""

Turns = NDArray[np.float32]


class Glance:
    """Tells which gaps of a crown look open from where.

    Parameters
    ----------
    fan : Fan
        Knows where a blade may enter, and what is in its way.
    """

    def __init__(self, fan: Fan) -> None:
        self._entries, self._eyes = fan.entries, fan.eyes_on_core
        self._items = len(fan.rim)
        # How many tubers and seams lie on the rim before each entry.
        rim = np.sort(list(fan.rim.values()))
        self._passed = np.searchsorted(rim, fan.along) % self._items
        reach = fan.part.core.buffer(OUTSIDE_MM * fan.px_per_mm)
        near = shapely.intersection(fan.blocked, reach)
        obstacles = shapely.get_parts(near.simplify(ROUGH_MM * fan.px_per_mm))
        solid = obstacles[shapely.get_dimensions(obstacles) == 2]
        self._corners, owner = shapely.get_coordinates(
            shapely.get_exterior_ring(solid), return_index=True
        )
        self._first = np.flatnonzero(np.diff(owner, prepend=-1))

    def promising(self, hubs_rc: Points, most: int) -> Points:
        """Choose the hubs around which most gaps look open.

        Parameters
        ----------
        hubs_rc : (N, 2) array
            Places to choose from, none of them blocked.
        most : int
            How many are wanted.

        Returns
        -------
        (M, 2) array
            The best of each kind come first, then the second of each, and so on: hubs
            are of one kind if the same gaps look open, past as many eyes. Which they
            are depends on shapes alone, never on the eyes' chances.
        """
        if not len(self._entries) or not len(hubs_rc):
            return np.empty((0, 2))
        to = _turns(hubs_rc, self._entries)
        free = self._free(hubs_rc, to)
        gaps, open_ = self._open_gaps(hubs_rc, to, free)
        order = np.lexsort([-free.sum(axis=1), -open_.sum(axis=1), -gaps])
        order = order[open_.sum(axis=1)[order] > 1]
        kinds = np.packbits(open_[order], axis=1)
        _, kind, count = np.unique(
            kinds, axis=0, return_inverse=True, return_counts=True
        )
        turn = np.empty(len(order), dtype=np.intp)
        first = np.repeat(np.cumsum(count) - count, count)
        turn[np.argsort(kind, kind="stable")] = np.arange(len(order)) - first
        chosen: Points = hubs_rc[order[np.argsort(turn, kind="stable")[:most]]]
        return chosen

    def _free(self, hubs_rc: Points, to: Turns) -> NDArray[np.bool_]:
        """Say from which hubs the way to which entries looks free."""
        if not len(self._corners):
            return np.ones(to.shape, dtype=bool)
        first = self._first
        angle = _turns(hubs_rc, self._corners)
        step = np.diff(angle, axis=1, prepend=angle[:, :1])
        step -= np.rint(step)
        step[:, first] = 0
        # How far each outline has turned around the hub, corner by corner.
        turned = np.cumsum(step, axis=1)
        start = angle[:, first] - turned[:, first]
        low = start + np.minimum.reduceat(turned, first, axis=1)
        high = start + np.maximum.reduceat(turned, first, axis=1)
        free = np.ones(to.shape, dtype=bool)
        for k in range(len(first)):
            past = to - low[:, k, None]
            past -= np.floor(past)
            free &= past > (high - low)[:, k, None]
        return free

    def _open_gaps(
        self, hubs_rc: Points, to: Turns, free: NDArray[np.bool_]
    ) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
        """Count the open gaps between tubers; and say which, eyes told apart."""
        count = max(len(self._eyes), 1)
        start = to[:, :1]
        past, eyes = (to - start) % 1, (_turns(hubs_rc, self._eyes) - start) % 1
        eye = np.zeros(to.shape, dtype=np.intp)
        for k in range(len(self._eyes)):
            eye += eyes[:, k, None] < past
        eye %= count
        open_ = np.zeros((len(hubs_rc), self._items * count), dtype=bool)
        hub, entry = np.nonzero(free)
        open_[hub, self._passed[entry] * count + eye[hub, entry]] = True
        by_gap = open_.reshape(len(hubs_rc), self._items, count).any(axis=2)
        return by_gap.sum(axis=1), open_


def _turns(hubs_rc: Points, points_rc: Points) -> Turns:
    """Return the direction of each point (M) from each hub (N), 0 to 1 clockwise."""
    hubs, points = hubs_rc.astype(np.float32).T, points_rc.astype(np.float32).T
    across, up = points[1] - hubs[1][:, None], hubs[0][:, None] - points[0]
    turns: Turns = np.arctan2(across, up) / np.float32(2 * np.pi)
    return turns + (turns < 0)
