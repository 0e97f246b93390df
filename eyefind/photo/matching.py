"""Exposure and white balance of a set made alike."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels
from eyefind.photo.sharpness import LINEAR

DARKEST, BRIGHTEST = 15, 245
"""sRGB values between which a pixel tells the gain of its channel."""
LEAST_SHARED = 50
"""Pixels that two frames must have in common to be matched."""


def matching_gains(frames: Sequence[Pixels], clump: Mask) -> NDArray[np.float64]:
    """Return the factors that give each frame the first one's exposure and colour.

    The median over the clump of the ratio to the first frame, channel by channel:
    shading makes some pixels brighter and others darker, the exposure all of them.

    Parameters
    ----------
    frames : sequence of (H, W, 3) uint8 arrays
        Registered sRGB frames.
    clump : (H, W) bool array
        Mask of the clump.

    Returns
    -------
    (n, 3) float64 array
        Factors on linear red, green and blue; ones for the first frame.
    """
    gains = np.ones((len(frames), 3))
    first = frames[0][clump]
    for number, frame in enumerate(frames[1:], start=1):
        other = frame[clump]
        lowest, highest = np.minimum(first, other), np.maximum(first, other)
        tells = (lowest > DARKEST).all(axis=1) & (highest < BRIGHTEST).all(axis=1)
        if np.count_nonzero(tells) >= LEAST_SHARED:
            ratio = LINEAR[first[tells]] / LINEAR[other[tells]]
            gains[number] = np.median(ratio, axis=0)
    return gains


def matched(
    frames: Sequence[Pixels], gains: NDArray[np.float64]
) -> NDArray[np.float32]:
    """Return the frames in linear light, matched: (n, H, W, 3) float32."""
    factors = gains.astype(np.float32)
    pairs = zip(frames, factors, strict=True)
    return np.stack([LINEAR[frame] * gain for frame, gain in pairs])
