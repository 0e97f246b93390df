"""How much the light differs between two frames of one view."""

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels
from eyefind.photo.sharpness import LINEAR
from eyefind.reduce import reduced, reduced_mask, size_at

WORK_PX = 300
"""Long side at which shading is compared: that of tubers, not of pores."""
SMOOTHING_PX = 2.0
DARKEST = 0.004
"""Added to linear light, so that black has a ratio too."""
NORMAL_WIDTH = 2.563
"""From the 10th to the 90th percentile of a normal distribution, in deviations."""


def shading_change(one: Pixels, other: Pixels, mask: Mask) -> float:
    """Return how much the shading differs between two registered frames.

    Parameters
    ----------
    one, other : (H, W, 3) uint8 arrays
        Registered frames, sRGB.
    mask : (H, W) bool array
        Where to compare.

    Returns
    -------
    float
        Standard deviation of the log ratio of their light, from its outer tenths: 0
        when only the exposure differs, 0.5 and more when a low lamp has changed sides.
    """
    size = size_at(mask.shape, min(1.0, WORK_PX / max(mask.shape)))
    inside = reduced_mask(mask, size)
    if not inside.any():
        return 0.0
    ratio = np.log(_light(one, size) / _light(other, size))[inside]
    low, high = np.percentile(ratio, (10, 90))
    return float(high - low) / NORMAL_WIDTH


def _light(rgb: Pixels, size: tuple[int, int]) -> NDArray[np.float32]:
    light = LINEAR[reduced(rgb, size)].mean(axis=2)
    return np.asarray(cv2.GaussianBlur(light, (0, 0), SMOOTHING_PX) + DARKEST)
