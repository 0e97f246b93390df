"""One colour picture from a set: even light, no glare."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Pixels
from eyefind.photo.sharpness import LINEAR

GLARE_FROM, GLARE_TO = 0.6, 0.95
"""Linear light, as the frame was exposed, over which a pixel loses its weight."""
LEAST_WEIGHT = 0.01
LEVELS = 4095
"""Steps of linear light in the table back to sRGB."""


def even_colour(frames: Sequence[Pixels], gains: NDArray[np.float64]) -> Pixels:
    """Average the frames in linear light; a pixel of glare hardly counts.

    Parameters
    ----------
    frames : sequence of (H, W, 3) uint8 arrays
        Registered sRGB frames.
    gains : (n, 3) float64 array
        Their matching factors, see `matching_gains`.

    Returns
    -------
    (H, W, 3) uint8 array
        In the exposure and colour of the first frame.
    """
    total = np.zeros(frames[0].shape, np.float32)
    weights = np.zeros(frames[0].shape[:2], np.float32)
    fading = np.clip((GLARE_TO - LINEAR) / (GLARE_TO - GLARE_FROM), LEAST_WEIGHT, 1.0)
    for frame, gain in zip(frames, gains, strict=True):
        weight = cv2.LUT(frame.max(axis=2), fading.astype(np.float32))
        table = (LINEAR[:, None] * gain).astype(np.float32)[None]
        light = cv2.LUT(frame, table)
        total += light * weight[..., None]
        weights += weight
    total /= weights[..., None]
    steps = np.clip(total * LEVELS + 0.5, 0, LEVELS).astype(np.uint16)
    return np.asarray(_to_srgb()[steps])


def _to_srgb() -> NDArray[np.uint8]:
    """Return the sRGB value of each step of linear light (IEC 61966-2-1)."""
    light = np.arange(LEVELS + 1) / LEVELS
    curve = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
    )
    return (curve * 255 + 0.5).astype(np.uint8)
