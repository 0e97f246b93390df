"""Photometric stereo, pixel by pixel, with glare and cast shadows left out."""

import numpy as np
from numpy.typing import NDArray

from eyefind.relief.lamps import Lamps

Light = NDArray[np.float32]
Kept = NDArray[np.bool_]

SHADED = 0.1
"""A pixel is in shade when its lamp gives less than this share of its light."""
LEAST_KEPT = 2
ENOUGH_KEPT = 3
"""Frames that fix a normal; a fourth is left out where it does not fit."""
MISFIT = 0.1
"""Relative misfit of four frames from which on one of them shows glare."""
FLATNESS = 0.05
"""Pull towards a level surface: settles what the lamps leave open."""
STEEPEST = 4.0
"""Steeper slopes (76 degrees) are noise at the outline."""
DARKEST = 0.002
"""Linear light below which a pixel says nothing."""


def solve_slope(
    light: Light, clear: Kept, lamps: Lamps
) -> tuple[NDArray[np.float32], Kept]:
    """Solve for the surface's slope.

    Light is linear in the normal times the skin's lightness, so that a set of kept
    frames gives it by least squares (Woodham 1980); a weak pull to the level decides
    where the lamps lie on one line, which makes two frames the ratio image
    (L - R) / (L + R). With four frames the one in a cast shadow or glare is left out
    (Coleman & Jain, Computer Graphics and Image Processing 18:309-328, 1982). A pixel
    in shade of its only lamp on that side is taken to be at least as steep as that
    lamp is low.

    Parameters
    ----------
    light : (n, N) float32 array
        Matched linear light of N pixels in each frame.
    clear : (n, N) bool array
        Where a frame is not clipped.
    lamps : Lamps
        Their lamps.

    Returns
    -------
    slope : (N, 2) float32 array
        Rise along (row, col); 0 where not valid.
    valid : (N,) bool array
        Where enough frames told it.
    """
    kept = _without_cast_shadow(clear, light, lamps)
    kept = _without_glare(kept, light, lamps)
    bits = (kept * (1 << np.arange(len(kept)))[:, None]).sum(axis=0)
    slope = np.zeros((light.shape[1], 2), np.float32)
    valid = (kept.sum(axis=0) >= LEAST_KEPT) & (light.max(axis=0) > DARKEST)
    for choice in np.unique(bits[valid]):
        chosen = [number for number in range(len(kept)) if choice >> number & 1]
        at = valid & (bits == choice)
        scaled = _inverse(lamps.light[chosen]) @ light[np.ix_(chosen, at)]
        up = np.maximum(scaled[2], 1e-6)
        slope[at] = -(scaled[:2] / up).T
    steep = np.linalg.norm(slope, axis=1)
    slope *= np.minimum(1.0, STEEPEST / np.maximum(steep, 1e-6))[:, None]
    return slope, valid


def _inverse(light: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return the (3, n) matrix from n frames' light to normal times lightness."""
    pull = np.diag([FLATNESS**2, FLATNESS**2, 0.0])
    return np.linalg.solve(light.T @ light + pull, light.T).astype(np.float32)


def _without_cast_shadow(kept: Kept, light: Light, lamps: Lamps) -> Kept:
    """Leave out the darkest frame where it is in shade and enough others are kept."""
    strength = lamps.strength.mean()
    share = (lamps.ambient + SHADED * strength) / (lamps.ambient + strength)
    lowest = np.where(kept, light, np.inf)
    darkest = lowest.argmin(axis=0)
    shaded = lowest.min(axis=0) < share * light.max(axis=0)
    spare = kept.sum(axis=0) > ENOUGH_KEPT
    kept = kept.copy()
    at = np.flatnonzero(shaded & spare)
    kept[darkest[at], at] = False
    return kept


def _without_glare(kept: Kept, light: Light, lamps: Lamps) -> Kept:
    """Leave out the frame that is too bright for what all the others say."""
    if len(light) <= ENOUGH_KEPT:
        return kept
    # What no surface can do: weights whose sum over the frames is 0 for any normal.
    null = np.linalg.svd(lamps.light.T)[2][ENOUGH_KEPT].astype(np.float32)
    parts = null[:, None] * light
    off = parts.sum(axis=0)
    odd = np.abs(off) > MISFIT * np.abs(parts).sum(axis=0)
    suspect = (parts * np.sign(off)).argmax(axis=0)
    kept = kept.copy()
    at = np.flatnonzero(odd & kept.all(axis=0))
    kept[suspect[at], at] = False
    return kept
