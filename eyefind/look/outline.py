"""Outlines of masks, to a fraction of a pixel."""

import cv2
import numpy as np
from skimage.measure import find_contours

from eyefind.data import Mask, Points

TOLERANCE_PX = 0.4
"""How far the simplified outline may leave the mask's own, px of the mask."""


def box_of(mask: Mask, margin_px: int = 0) -> tuple[slice, slice]:
    """Return the rows and columns that a mask spans.

    Parameters
    ----------
    mask : (h, w) bool array
        The mask; an empty one has an empty box.
    margin_px : int
        Wanted around it, as far as the picture goes.

    Returns
    -------
    rows, cols : slice
        The box.
    """
    left, top, width, height = cv2.boundingRect(mask.view(np.uint8))
    rows = slice(max(0, top - margin_px), top + height + margin_px)
    return rows, slice(max(0, left - margin_px), left + width + margin_px)


def filled(outline: Points, shape: tuple[int, ...]) -> Mask:
    """Fill an outline.

    Parameters
    ----------
    outline : (N, 2) array
        Its corners, (row, col) px of the mask; fewer than three enclose nothing.
    shape : (int, int)
        Size of the mask.

    Returns
    -------
    (h, w) bool array
        The outline and what lies within.
    """
    mask = np.zeros(shape, np.uint8)
    if len(outline) > 2:
        cv2.fillPoly(mask, [np.rint(outline[:, ::-1]).astype(np.int32)], 1)
    return mask.view(bool)


def outline_of(mask: Mask) -> Points:
    """Trace the outline of a mask's largest region.

    Parameters
    ----------
    mask : (h, w) bool array
        The region; holes are ignored.

    Returns
    -------
    (N, 2) array
        Closed outline, (row, col) px of the mask, half-way between inside and
        outside pixels, last point not repeated; (0, 2) for an empty mask.
    """
    left, top, width, height = cv2.boundingRect(mask.astype(np.uint8))
    if width == 0:
        return np.zeros((0, 2))
    cut = np.pad(mask[top : top + height, left : left + width], 1)
    rings = find_contours(cut.astype(np.float32), 0.5)
    longest = max(rings, key=len)[:-1]
    simple = cv2.approxPolyDP(
        longest[:, None].astype(np.float32), TOLERANCE_PX, closed=True
    )
    return np.add(simple[:, 0].astype(float), (top - 1, left - 1))
