"""Exposure and white balance of a set made alike."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels
from eyefind.photo.sharpness import LINEAR

DARKEST, BRIGHTEST = 15, 245
"""sRGB values between which a pixel tells the gain of its channel."""
SAMPLES = 100_000
"""Pixels that are looked at, at most about twice as many."""
LEAST_SHARED = 50
"""Pixels that two frames must have in common to be matched."""


def matching_gains(frames: Sequence[Pixels], where: Mask) -> NDArray[np.float64]:
    """Return the factors that give each frame the first one's exposure and colour.

    The median over a mask of the ratio to the first frame, channel by channel:
    shading makes some pixels brighter and others darker, the exposure all of them.

    Parameters
    ----------
    frames : sequence of (H, W, 3) uint8 arrays
        Registered sRGB frames.
    where : (H, W) bool array
        Pixels to compare, such as those of the clump.

    Returns
    -------
    (n, 3) float64 array
        Factors on linear red, green and blue; ones for the first frame.
    """
    gains = np.ones((len(frames), 3))
    places = np.flatnonzero(where)
    places = places[:: max(1, len(places) // SAMPLES)]
    first, *others = (frame.reshape(-1, 3)[places] for frame in frames)
    for number, other in enumerate(others, start=1):
        lowest, highest = np.minimum(first, other), np.maximum(first, other)
        tells = (lowest > DARKEST).all(axis=1) & (highest < BRIGHTEST).all(axis=1)
        if np.count_nonzero(tells) >= LEAST_SHARED:
            ratio = LINEAR[first[tells]] / LINEAR[other[tells]]
            gains[number] = np.median(ratio, axis=0)
    return gains


def matched_grey(
    pixels: Sequence[NDArray[np.uint8]], gains: NDArray[np.float64]
) -> NDArray[np.float32]:
    """Return matched linear light, the mean of red, green and blue.

    Parameters
    ----------
    pixels : sequence of (..., 3) uint8 arrays
        Pixels of each frame, sRGB.
    gains : (n, 3) float64 array
        The frames' factors, see `matching_gains`.

    Returns
    -------
    (n, ...) float32 array
        Light in the first frame's exposure.
    """
    shares = (gains / 3).astype(np.float32)
    return np.stack(
        [LINEAR[one] @ share for one, share in zip(pixels, shares, strict=True)]
    )
