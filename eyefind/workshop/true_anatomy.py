"""The true anatomy of a rendered clump, in the form in which the product finds it.

So a step behind the anatomy can be judged apart from it.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt
from skimage.graph import route_through_array

from eyefind.data import Anatomy, Mask, Points, Stem, Tuber
from eyefind.look.outline import filled
from eyefind.model.network import PARTS
from eyefind.workshop.truth import TrueTuber, Truth

GRID_PX_PER_MM = 2.0
"""Grid on which the medial axis of an outline is traced."""
AXIS_STEP_MM = 2.0
"""Distance of the axis' points."""


def true_mask(truth: Truth, label: NDArray[np.uint16]) -> Mask:
    """Return the clump's true mask.

    Parameters
    ----------
    truth : Truth
        Of one clump.
    label : (h, w) uint16 array
        Its label image (see `eyefind.workshop.truth`).

    Returns
    -------
    (H, W) bool array
        At the picture's size: all parts but bench, tools and card.
    """
    part = label // 100
    others = [PARTS.index("bench"), PARTS.index("tool_or_card")]
    clump = (~np.isin(part, others)).astype(np.float32)
    size = (truth.width_px, truth.height_px)
    return np.asarray(cv2.resize(clump, size, interpolation=cv2.INTER_LINEAR) >= 0.5)


def true_anatomy(truth: Truth) -> Anatomy:
    """Turn the truth into an anatomy; tubers that the camera does not see are left out.

    Parameters
    ----------
    truth : Truth
        Of one clump.

    Returns
    -------
    Anatomy
        Outlines, necks, measures and attachments as they are; widths and axes from
        the outlines.
    """
    crown = np.array(truth.crown_outline_px).reshape(-1, 2)
    stems = [
        Stem(s.id, np.array(s.outline_px), np.array(s.axis_px), s.diameter_mm)
        for s in truth.stems
        if s.outline_px
    ]
    tubers = [_tuber(t, truth) for t in truth.tubers if len(t.outline_px) > 2]
    return Anatomy(np.array(truth.clump_outline_px), crown, stems, tubers)


def true_axis(true: TrueTuber, truth: Truth) -> tuple[Points, NDArray[np.float64]]:
    """Return the middle line of a tuber's visible outline and its widths.

    Parameters
    ----------
    true : TrueTuber
        With an outline.
    truth : Truth
        Of its clump.

    Returns
    -------
    axis_px : (N, 2) array
        From the crown end to the farthest point.
    width_mm : (N,) array
        Across it.
    """
    crown = np.array(truth.crown_outline_px).reshape(-1, 2)
    middle = crown.mean(axis=0) if len(crown) else np.array([np.nan, np.nan])
    outline, neck = np.array(true.outline_px), np.array(true.neck_rc_px)
    return _medial_axis(outline, neck, truth, true.attached_to, middle)


def _tuber(true: TrueTuber, truth: Truth) -> Tuber:
    axis, width_mm = true_axis(true, truth)
    return Tuber(
        true.id,
        np.array(true.outline_px),
        axis,
        width_mm,
        np.array(true.neck_rc_px),
        true.neck_width_mm,
        true.length_mm,
        true.max_diameter_mm,
        true.volume_ml,
        0.0,
        true.attached_to,
    )


def _medial_axis(
    outline: Points, neck: Points, truth: Truth, attached_to: str, middle: Points
) -> tuple[Points, NDArray[np.float64]]:
    """Follow the middle of the outline from its crown end to the farthest point."""
    step = GRID_PX_PER_MM / truth.px_per_mm
    corner = outline.min(axis=0) - 2.0 / step
    grid = (outline - corner) * step
    height, width = np.ceil(grid.max(axis=0)).astype(int) + 3
    inside = filled(grid, (int(height), int(width)))
    depth = distance_transform_edt(inside)
    base = grid[np.argmin(np.hypot(*(outline - _base(neck, attached_to, middle)).T))]
    tip = grid[np.argmax(np.hypot(*(grid - base).T))]
    cost = np.where(inside, 1.0 / (0.3 + depth) ** 2, 1e3)
    path, _ = route_through_array(
        cost, np.rint(base).astype(int), np.rint(tip).astype(int), geometric=True
    )
    places = np.array(path)
    along = np.concatenate([[0.0], np.hypot(*np.diff(places, axis=0).T).cumsum()])
    count = max(3, round(along[-1] / GRID_PX_PER_MM / AXIS_STEP_MM) + 1)
    nodes = np.interp(np.linspace(0, along[-1], count), along, np.arange(len(path)))
    picked = places[np.rint(nodes).astype(int)]
    width_mm = 2 * depth[picked[:, 0], picked[:, 1]] / GRID_PX_PER_MM
    return picked / step + corner, width_mm


def _base(neck: Points, attached_to: str, middle: Points) -> Points:
    """Return a point beyond the crown end: the outline begins where it is nearest."""
    if attached_to != "crown" or np.isnan(middle).any():
        return neck
    return neck + 0.3 * (middle - neck)
