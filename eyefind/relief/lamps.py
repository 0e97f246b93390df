"""Where the lamp stood in each frame, read off the clump itself."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

Floats = NDArray[np.float64]

HEIGHTS_DEG = (3.0, 80.0)
"""Heights of the lamp that are taken for possible."""
FIRST_HEIGHT_DEG = 25.0
FIRST_AMBIENT = 0.1
MOST_AMBIENT = 2.0
MOST_GAIN = 3.0
"""Frames are matched before, so that little is left to even out."""
SAMPLES = 400
MISFIT = 0.05
"""Share of the light at which a pixel counts as odd: a cast shadow, a neck, a gap."""
LEAST_FACING = 0.05
"""Cosine of the steepest normal that is used; beyond, the outline itself is unsure."""
LEVEL_WEIGHT = 3.0
"""The card is flat for sure, but a near lamp lights it otherwise than the clump."""


@dataclass(frozen=True, eq=False)
class Lamps:
    """The light of a set.

    Attributes
    ----------
    towards : (n, 3) float64 array
        Unit vectors towards the lamp, (row, col, up).
    strength : (n,) float64 array
        Light of each lamp on a surface that faces it, after the frames were matched.
    ambient : float
        Light from above that every frame has beside its lamp, in the same unit.
    """

    towards: Floats
    strength: Floats
    ambient: float

    @property
    def light(self) -> Floats:
        """(n, 3): the product with a normal is the light on a surface not in shade."""
        return self.towards * self.strength[:, None] + (0.0, 0.0, self.ambient)


def find_lamps(light: Floats, normals: Floats, level: Floats | None = None) -> Lamps:
    """Find the lamps that explain best how the light is shared between the frames.

    A frame's share of a pixel's light is free of the skin's colour. By Lambert's law
    it follows from the pixel's normal and the lamps; the normals are those that the
    outline suggests. A robust fit bears with the many pixels that lie otherwise (the
    lamp's azimuth from shading along outlines: Zheng & Chellappa, IEEE Trans. PAMI
    13:680-702, 1991).

    Parameters
    ----------
    light : (n, N) array
        Linear light of N pixels in each of n frames, exposures matched.
    normals : (N, 3) array
        Unit normals (row, col, up) that those pixels are thought to have.
    level : (n,) array or None
        Light of each frame on something that lies flat, such as the card.

    Returns
    -------
    Lamps
        The lamps.
    """
    usable = (normals[:, 2] > LEAST_FACING) & (light.sum(axis=0) > 0)
    places = np.flatnonzero(usable)
    places = places[:: max(1, len(places) // SAMPLES)]
    normal, seen = normals[places], light[:, places]
    # Towards the outline the normals are sure, on top of the body they are a guess.
    weight = 1 - normal[:, 2] ** 2
    if level is not None:
        normal = np.vstack([normal, (0.0, 0.0, 1.0)])
        seen = np.column_stack([seen, level])
        weight = np.append(weight, LEVEL_WEIGHT)
    share = seen / seen.sum(axis=0)
    count = len(light)
    first = _first_guess(seen, normal)
    low, high = np.radians(HEIGHTS_DEG)
    bounds = (
        [-np.inf] * count + [low] * count + [1 / MOST_GAIN] * count + [0.0],
        [np.inf] * count + [high] * count + [MOST_GAIN] * count + [MOST_AMBIENT],
    )

    def misfit(knobs: Floats) -> Floats:
        off = _shares(_from_knobs(knobs), normal) - share
        # The strengths share one factor with nothing to fix it but this.
        unit = knobs[2 * count : -1].mean() - 1
        return np.append((weight * off).ravel(), unit)

    fit = least_squares(
        misfit, first, bounds=bounds, loss="soft_l1", f_scale=MISFIT, max_nfev=60
    )
    return _from_knobs(fit.x)


def _first_guess(seen: Floats, normal: Floats) -> Floats:
    """Point each lamp to the side on which its frame is bright."""
    count = len(seen)
    mean = seen.sum(axis=1, keepdims=True) / max(1, seen.shape[1])
    pull = (seen - mean) @ normal[:, :2]
    azimuth = np.arctan2(pull[:, 1], pull[:, 0])
    height = np.full(count, np.radians(FIRST_HEIGHT_DEG))
    return np.concatenate([azimuth, height, np.ones(count), [FIRST_AMBIENT]])


def _from_knobs(knobs: Floats) -> Lamps:
    count = len(knobs) // 3
    azimuth, height, strength = knobs[:-1].reshape(3, count)
    towards = np.column_stack(
        [
            np.cos(height) * np.cos(azimuth),
            np.cos(height) * np.sin(azimuth),
            np.sin(height),
        ]
    )
    return Lamps(towards, strength, float(knobs[-1]))


def _shares(lamps: Lamps, normal: Floats) -> Floats:
    lit = np.maximum(lamps.towards @ normal.T, 0.0) * lamps.strength[:, None]
    light = lit + lamps.ambient * normal[:, 2] + 1e-6
    return np.asarray(light / light.sum(axis=0))
