"""One straight cut across a tuber: drawn, checked, moved until it keeps the rules."""

from collections.abc import Container, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon
from shapely.ops import substring

from eyefind.plan.guard import Guard
from eyefind.plan.parts import Body
from eyefind.plan.shapes import chords, places_along, sever

STEP_MM = 1.0
"""Spacing of the places along the axis that are tried."""
TILTS_DEG = ((0.0,), (15.0, -15.0, 30.0, -30.0, 45.0, -45.0))
"""Angles to the square cut: slanted ones are tried where no square cut goes."""
OVERSHOOT_MM = (2.0, 0.4)
"""How far a cut is drawn beyond the skin; the second where neighbours are close."""
BATCH = 12
"""Places along the axis that are looked at together: the best of them is taken."""
MOST_TRIED = 8
"""Paths of a batch that are drawn out in full: if the best fail, so do the others."""
PATCH_LEFT = 0.01
"""Share of a soft patch that may lie on the wrong side of a cut: drawing noise."""


@dataclass(frozen=True, eq=False)
class CrossCut:
    """A cut across a body: path, place along the axis (px), what stays and leaves."""

    path: LineString
    at_px: float
    stays: Polygon
    leaves: Polygon


def cross_cut(
    body: Body,
    guard: Guard,
    px_per_mm: float,
    first_px: float,
    last_px: float,
    own: Container[str],
    gone: Polygon | None = None,
) -> CrossCut | str:
    """Find the best cut across `body` between two places along its axis.

    Parameters
    ----------
    body : Body
        What is cut.
    guard : Guard
        The rules.
    px_per_mm : float
        Scale.
    first_px, last_px : float
        The place that is wanted and the farthest that is tried; `last_px` may be the
        smaller one.
    own : container of str
        Ids of the bodies that the path may cross.
    gone : Polygon, optional
        A patch that must leave with the far part.

    Returns
    -------
    CrossCut or str
        The cut, or in words why there is none.
    """
    if body.shape.is_empty or body.axis.is_empty:
        return "its outline was not made out"
    count = int(abs(last_px - first_px) / (STEP_MM * px_per_mm)) + 1
    places = np.linspace(first_px, last_px, count)
    objection = None
    for start in range(0, count, BATCH):
        batch = places[start : start + BATCH]
        for tilts in TILTS_DEG:
            paths, at_px, cost = _candidates(body, px_per_mm, first_px, batch, tilts)
            order = np.argsort(cost, kind="stable")
            allowed = guard.allows(paths[order], own)
            for k in order[allowed][:MOST_TRIED]:
                cut = _severed(body, paths[k], float(at_px[k]), gone)
                if cut is not None:
                    return cut
            if len(paths):
                objection = objection or guard.objection(paths[order[0]], own)
    return objection or "no clean way across it was found"


def neck_is_whole(body: Body, cut: CrossCut, px_per_mm: float) -> bool:
    """Whether a cut that trims `body` leaves its neck alone: as long as it is wide."""
    width_mm = 0.0 if body.tuber is None else np.nan_to_num(body.tuber.neck_width_mm)
    end_px = body.neck_px + width_mm / 2 * px_per_mm
    neck = substring(body.axis, 0.0, end_px)
    near = cut.path.dwithin(body.axis.interpolate(body.neck_px), end_px - body.neck_px)
    return bool(cut.at_px > end_px and cut.path.disjoint(neck) and not near)


def _candidates(
    body: Body,
    ppm: float,
    wanted_px: float,
    places: NDArray[np.float64],
    tilts_deg: Sequence[float],
) -> tuple[NDArray[np.object_], NDArray[np.float64], NDArray[np.float64]]:
    """Draw all cuts that are tried: paths, places along the axis, costs."""
    step = STEP_MM * ppm
    middle, before, after = (
        places_along(body.axis, along)
        for along in (places, np.maximum(places - step, 0.0), places + step)
    )
    along = after - before
    ways, middles, tilts, at_px = [], [], [], []
    for tilt in tilts_deg:
        cos, sin = np.cos(np.deg2rad(90 + tilt)), np.sin(np.deg2rad(90 + tilt))
        ways.append(along @ np.array([[cos, sin], [-sin, cos]]))
        middles.append(middle)
        tilts.append(np.full(len(places), abs(tilt)))
        at_px.append(places)
    ends, found = chords(body.shape, np.concatenate(middles), np.concatenate(ways))
    tilt_deg, at = np.concatenate(tilts)[found], np.concatenate(at_px)[found]
    way = ends[:, 1] - ends[:, 0]
    length = np.hypot(*way.T)
    # A line may graze a corner: there is nothing to cut.
    cuts = length > 0
    ends, tilt_deg, at = ends[cuts], tilt_deg[cuts], at[cuts]
    way, length = way[cuts], length[cuts]
    # Near the place that is wanted, short and square.
    cost = (np.abs(at - wanted_px) + length / 2) / ppm + tilt_deg / 10
    paths, costs = [], []
    for extra, overshoot_mm in enumerate(OVERSHOOT_MM):
        beyond = way / length[:, None] * overshoot_mm * ppm
        longer = np.stack([ends[:, 0] - beyond, ends[:, 1] + beyond], axis=1)
        paths.append(shapely.linestrings(longer))
        costs.append(cost + extra)
    return np.concatenate(paths), np.tile(at, len(OVERSHOOT_MM)), np.concatenate(costs)


def _severed(
    body: Body, path: LineString, at_px: float, gone: Polygon | None
) -> CrossCut | None:
    """Return the cut if it severs the body where it should."""
    stays, leaves = sever(body.shape, path, Point(body.axis.coords[0]))
    if leaves.is_empty or leaves.distance(body.axis.interpolate(at_px + 1.0)) > 1.0:
        return None
    if gone is not None and stays.intersection(gone).area > PATCH_LEFT * gone.area:
        return None
    return CrossCut(path, at_px, stays, leaves)
