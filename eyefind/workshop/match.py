"""Which flag found which eye: one to one, within a distance."""

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from eyefind.data import Points

Pairs = list[tuple[int, int]]
"""(index found, index true) of every match."""


def match_points(found_rc: Points, true_rc: Points, within_px: float) -> Pairs:
    """Match points one to one so that as many as possible lie within a distance.

    The Hungarian method: most matches first, then the least summed distance.

    Parameters
    ----------
    found_rc, true_rc : (N, 2), (M, 2) array
        Places, (row, col) px.
    within_px : float
        Farther pairs never match.

    Returns
    -------
    list of (int, int)
        Index found, index true.
    """
    if len(found_rc) == 0 or len(true_rc) == 0:
        return []
    return match_within(cdist(found_rc, true_rc), within_px)


def match_within(far: NDArray[np.float64], within: float) -> Pairs:
    """Match rows and columns of a table of distances as `match_points` does.

    Parameters
    ----------
    far : (N, M) array
        Distance of found (row) and true (column).
    within : float
        Farther pairs never match.

    Returns
    -------
    list of (int, int)
        Row, column.
    """
    if far.size == 0:
        return []
    # Beyond reach costs more than all matches within reach together.
    cost = np.where(far <= within, far, (min(far.shape) + 1) * (within + 1.0))
    rows, cols = linear_sum_assignment(cost)
    return [
        (int(row), int(col))
        for row, col in zip(rows, cols, strict=True)
        if far[row, col] <= within
    ]


def hits_by_rank(
    found_rc: Points, true_rc: Points, within_px: float
) -> NDArray[np.bool_]:
    """Tell of each flag, taken in order, whether it raises the number of matches.

    A flag is a hit when the first n flags match one eye more than the first n - 1 do.
    So the hits among the first n are exactly the best one-to-one match of those n,
    whatever the threshold.

    Parameters
    ----------
    found_rc : (N, 2) array
        Places in order of falling likelihood, (row, col) px.
    true_rc : (M, 2) array
        True places.
    within_px : float
        Reach of a match.

    Returns
    -------
    (N,) bool array
        Hit or false flag.
    """
    hit = np.zeros(len(found_rc), bool)
    if len(found_rc) == 0 or len(true_rc) == 0:
        return hit
    # A flag with no eye in reach is never a hit and changes no other flag's fate.
    near = np.nonzero(cdist(found_rc, true_rc).min(axis=1) <= within_px)[0]
    matched = [
        len(match_points(found_rc[near[:count]], true_rc, within_px))
        for count in range(len(near) + 1)
    ]
    hit[near] = np.diff(matched) > 0
    return hit


def match_regions(
    found: list[NDArray[np.bool_]], true: list[NDArray[np.bool_]], least_iou: float
) -> list[tuple[int, int, float]]:
    """Match regions one to one by the greatest summed overlap.

    Parameters
    ----------
    found, true : list of (H, W) bool array
        The regions.
    least_iou : float
        Pairs with a smaller intersection over union never match.

    Returns
    -------
    list of (int, int, float)
        Index found, index true, intersection over union.
    """
    if not found or not true:
        return []
    a = np.array([region.ravel() for region in found], np.float32)
    b = np.array([region.ravel() for region in true], np.float32)
    both = a @ b.T
    either = a.sum(1)[:, None] + b.sum(1)[None, :] - both
    iou = both / np.maximum(either, 1)
    rows, cols = linear_sum_assignment(np.where(iou > least_iou, iou, 0), maximize=True)
    return [
        (int(row), int(col), float(iou[row, col]))
        for row, col in zip(rows, cols, strict=True)
        if iou[row, col] > least_iou
    ]
