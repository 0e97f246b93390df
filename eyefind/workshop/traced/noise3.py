"""Noise in space, the same wherever it is asked."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

Floats = NDArray[np.float64]

CELLS = 64
"""Cells of the lattice, which repeats."""
GRAIN = 2.4
"""Cells a feature is wide."""


class Noise:
    """Smooth noise of mean 0 and standard deviation 1.

    Parameters
    ----------
    rng : numpy.random.Generator
        What draws the lattice.
    """

    def __init__(self, rng: np.random.Generator) -> None:
        rough = rng.normal(0, 1, (CELLS, CELLS, CELLS)).astype(np.float32)
        smooth = gaussian_filter(rough, 1.0, mode="wrap")
        self._lattice = smooth / smooth.std()
        self._shift = rng.uniform(0, CELLS, 3)

    def at(self, points: Floats, feature_mm: float | Floats) -> Floats:
        """Return noise at points.

        Parameters
        ----------
        points : (N, 3) array
            Places, mm.
        feature_mm : float or (3,) array
            Size of a feature, on each axis if three.

        Returns
        -------
        (N,) array
            Noise.
        """
        cells = points * (GRAIN / np.asarray(feature_mm)) + self._shift
        return np.asarray(
            map_coordinates(self._lattice, cells.T, order=1, mode="grid-wrap"),
            np.float64,
        )

    def rough(self, points: Floats, feature_mm: float, octaves: int = 4) -> Floats:
        """Return noise with ever finer and weaker features, (N,) array of points."""
        total = np.zeros(len(points))
        weight = 0.0
        for octave in range(octaves):
            share = 0.55**octave
            moved = points + 17.3 * octave
            total += share * self.at(moved, feature_mm / 2.03**octave)
            weight += share**2
        return np.asarray(total / np.sqrt(weight))

    def creases(self, points: Floats, feature_mm: float | Floats) -> Floats:
        """Return 1 on a net of thin lines and 0 away from them, (N,) array."""
        return np.exp(-((self.at(points, feature_mm) / 0.22) ** 2))


def smooth_step(low: float, high: float, value: Floats) -> Floats:
    """Return 0 below `low`, 1 above `high`, a smooth rise between (array)."""
    share = np.clip((value - low) / (high - low), 0, 1)
    return share * share * (3 - 2 * share)


def mix(one: Floats, other: Floats, share: Floats) -> Floats:
    """Blend (N, 3) or (3,) colours by an (N,) share of the other."""
    part = np.clip(share, 0, 1)[:, None]
    return one * (1 - part) + other * part
