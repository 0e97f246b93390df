"""The clump cut out and brought to the scale at which its parts are read."""

from dataclasses import dataclass

import cv2
import numpy as np

from eyefind.data import Mask, Pixels, Points, Scale

WORK_PX_PER_MM = 2.0
"""Scale at which parts are told apart: a neck of 3 mm spans 6 px."""
MOST_PX = 500_000
"""A larger cut-out (a scale far off) is reduced further."""
MARGIN_PX = 4
"""Bench kept around the clump, working px."""


@dataclass(frozen=True, eq=False)
class Frame:
    """A cut-out of the photo at the working scale.

    Attributes
    ----------
    rgb : (h, w, 3) uint8 array
        Pixels.
    mask : (h, w) bool array
        The clump.
    px_per_mm : float
        Working px in one mm.
    corner_rc : (2,) array
        Corner of the cut-out in the full photo, px; may lie outside it.
    step : float
        Working px in one px of the photo.
    """

    rgb: Pixels
    mask: Mask
    px_per_mm: float
    corner_rc: Points
    step: float

    def to_photo(self, work_rc: Points) -> Points:
        """Turn (N, 2) working px into px of the full photo."""
        return (np.asarray(work_rc, float) + 0.5) / self.step - 0.5 + self.corner_rc


def cut_out(rgb: Pixels, clump: Mask, scale: Scale) -> Frame:
    """Cut the clump out and resize it, once.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    clump : (H, W) bool array
        The clump, not empty.
    scale : Scale
        Scale; a guess is taken as it is.

    Returns
    -------
    Frame
        At `WORK_PX_PER_MM`, or less if that would make more than `MOST_PX`.
    """
    left, top, width, height = cv2.boundingRect(clump.view(np.uint8))
    step = WORK_PX_PER_MM / scale.px_per_mm
    step = min(step, (MOST_PX / (width * height)) ** 0.5)
    margin = int(np.ceil(MARGIN_PX / step))
    rows = slice(max(0, top - margin), top + height + margin)
    cols = slice(max(0, left - margin), left + width + margin)
    pixels, mask = rgb[rows, cols], clump[rows, cols]
    size = [max(1, round(side * step)) for side in mask.shape[::-1]]
    way = cv2.INTER_AREA if step < 1 else cv2.INTER_LINEAR
    small = cv2.resize(pixels, size, interpolation=way)
    share = cv2.resize(mask.view(np.uint8) * np.uint8(255), size, interpolation=way)
    # One empty pixel all around, so that the photo's frame counts as an outline.
    small = cv2.copyMakeBorder(small, 1, 1, 1, 1, cv2.BORDER_REPLICATE)
    inside = cv2.copyMakeBorder(share, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0) > 127
    corner = np.array([rows.start, cols.start], float) - 1 / step
    return Frame(
        np.asarray(small, np.uint8),
        np.asarray(inside),
        scale.px_per_mm * step,
        corner,
        step,
    )
