"""One colour picture from a set: even light, no glare."""

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels
from eyefind.photo.matching import matching_gains
from eyefind.photo.sharpness import LINEAR
from eyefind.reduce import reduced, size_at

Floats = NDArray[np.float32]

GLARE_FROM, GLARE_TO = 0.6, 0.95
"""Linear light, as the frame was exposed, over which a pixel loses its weight."""
LEAST_WEIGHT = 0.01
LEVELS = 4095
"""Steps of linear light in the table back to sRGB."""
COARSE_PX = 200
COARSE_SIGMA_PX = 8.0
"""Lamp and distance make a frame brighter on one side; seen at this coarseness."""
STRIP = 64
"""Rows done at a time: what stays in the processor's cache is twice as fast."""


def even_colour(frames: Sequence[Pixels], clump: Mask) -> Pixels:
    """Average the frames in linear light; a pixel of glare hardly counts.

    Where a frame is left out the others stand in for it, each made as bright as all
    of them are around there, so that no seam shows.

    Parameters
    ----------
    frames : sequence of (H, W, 3) uint8 arrays
        Registered sRGB frames.
    clump : (H, W) bool array
        Mask of the clump: exposure and colour are matched there.

    Returns
    -------
    (H, W, 3) uint8 array
        In the exposure and colour of the first frame.
    """
    height, width = frames[0].shape[:2]
    gains = matching_gains(frames, clump)
    around = _brightness_around(frames, gains)
    shares = [cv2.resize(one, (width, height)) for one in around / around.mean(axis=0)]
    tables = (LINEAR * gains[..., None]).astype(np.float32)
    back = _to_srgb()
    colour = np.empty_like(frames[0])
    for top in range(0, height, STRIP):
        rows = slice(top, top + STRIP)
        # Plane by plane: a product over the last of three axes is slow.
        total = np.zeros((3, *shares[0][rows].shape), np.float32)
        weights = np.zeros(total.shape[1:], np.float32)
        for frame, of_frame, share in zip(frames, tables, shares, strict=True):
            planes = cv2.split(frame[rows])
            weight = _weight(planes)
            for plane, table, sum_ in zip(planes, of_frame, total, strict=True):
                sum_ += cv2.LUT(plane, table) * weight
            weights += weight * share[rows]
        light = np.minimum(total / weights, 1.0) * LEVELS + 0.5
        colour[rows] = cv2.merge([back.take(one) for one in light.astype(np.uint16)])
    return colour


def _brightness_around(frames: Sequence[Pixels], gains: NDArray[np.float64]) -> Floats:
    """Return each frame's matched light at a coarse size, (n, h, w) float32."""
    size = size_at(frames[0].shape, min(1.0, COARSE_PX / max(frames[0].shape)))
    coarse = []
    for frame, gain in zip(frames, gains, strict=True):
        small = reduced(frame, size)
        weight = _weight(cv2.split(small))
        light = (LINEAR[small] * gain).mean(axis=2) * weight
        total, weights = (
            cv2.GaussianBlur(one.astype(np.float32), (0, 0), COARSE_SIGMA_PX)
            for one in (light, weight)
        )
        coarse.append((total + 1e-4) / weights)
    return np.asarray(coarse, dtype=np.float32)


def _weight(planes: Sequence[NDArray[Any]]) -> Floats:
    """Return how much each pixel counts: little where a channel nears white."""
    fading = np.clip((GLARE_TO - LINEAR) / (GLARE_TO - GLARE_FROM), LEAST_WEIGHT, 1.0)
    red, green, blue = planes
    return np.asarray(cv2.LUT(cv2.max(cv2.max(red, green), blue), fading), np.float32)


def _to_srgb() -> NDArray[np.uint8]:
    """Return the sRGB value of each step of linear light (IEC 61966-2-1)."""
    light = np.arange(LEVELS + 1) / LEVELS
    high = 1.055 * light ** (1 / 2.4) - 0.055
    curve = np.where(light <= 0.0031308, 12.92 * light, high)
    return (curve * 255 + 0.5).astype(np.uint8)
