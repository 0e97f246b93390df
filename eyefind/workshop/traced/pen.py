"""Pen strokes on the skin of tubers: growers write names there."""

import numpy as np
from scipy.spatial import cKDTree

from eyefind.workshop.traced.noise3 import Floats


def pen_strokes(rng: np.random.Generator, straight: Floats, pen_mm: float) -> Floats:
    """Say where a pen has marked a root's skin: a word's worth of strokes, no letters.

    Parameters
    ----------
    rng : numpy.random.Generator
        Draws the strokes.
    straight : (N, 3) array
        Places if the root were straight: along, and two across; mm.
    pen_mm : float
        Width of the line.

    Returns
    -------
    (N,) array
        Share of ink, 0 to 1.
    """
    along, radius = straight[:, 0], np.hypot(straight[:, 1], straight[:, 2])
    low, high = np.quantile(along, (0.35, 0.7))
    side = rng.uniform(-np.pi, np.pi)
    angle = np.arctan2(straight[:, 2], straight[:, 1]) - side
    round_mm = radius * ((angle + np.pi) % (2 * np.pi) - np.pi)
    strokes, at = [], float(low)
    tall = rng.uniform(12, 22)
    while at < high:
        count = int(rng.integers(3, 6))
        way = tall / 2 * rng.uniform(-1, 1, (count, 2))
        share = np.linspace(0, count - 1, 20 * count)
        line = [np.interp(share, np.arange(count), part) for part in way.T]
        strokes.append(np.stack([at + 0.5 * line[0], line[1]], axis=1))
        at += 0.8 * tall
    flat = np.stack([along, round_mm], axis=1)
    away, _ = cKDTree(np.concatenate(strokes)).query(flat, distance_upper_bound=5.0)
    return np.asarray(np.clip(1.0 + (pen_mm / 2 - away) / 0.5, 0, 1))
