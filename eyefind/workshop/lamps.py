"""Draws the light: lamps hard and soft, near and far, warm and cold; windows."""

import math

import numpy as np

from eyefind.workshop.light import Lamp

LIGHTS = {"raking": (8, 24), "slanting": (25, 50), "frontal": (55, 85)}
"""Elevation of the first lamp above the picture's plane, degrees."""
SOFTNESS = (0.01, 0.06, 0.14, 0.26)
"""Half the size of a lamp, rad: bare bulb, shaded lamp, strip, window."""

Colour = tuple[float, float, float]


def draw_lamps(rng: np.random.Generator, light: str) -> tuple[list[Lamp], Colour]:
    """Draw lamps and the light of the room.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    light : str
        One of `LIGHTS`.

    Returns
    -------
    lamps : list of Lamp
        The brightest first.
    ambient : (float, float, float)
        Linear RGB.
    """
    elevation = math.radians(rng.uniform(*LIGHTS[light]))
    azimuth = float(rng.uniform(0, 2 * math.pi))
    lamps = [_lamp(rng, azimuth, elevation, 1.0)]
    for _ in range(int(rng.choice(3, p=[0.6, 0.33, 0.07]))):
        side = azimuth + float(rng.uniform(1.2, 5.0))
        second = math.radians(rng.uniform(15, 75))
        lamps.append(_lamp(rng, side, second, float(rng.uniform(0.15, 0.8))))
    room = float(rng.uniform(0.15, 0.75)) * (0.75 if light == "raking" else 1.0)
    return lamps, _tinted(rng, room)


def _lamp(
    rng: np.random.Generator, azimuth: float, elevation: float, strength: float
) -> Lamp:
    soft = float(rng.choice(SOFTNESS, p=[0.25, 0.35, 0.25, 0.15]))
    return Lamp(
        azimuth,
        elevation,
        _tinted(rng, strength),
        min(soft, 0.8 * elevation),
        near=float(rng.uniform(0, 0.6)),
        bars_mm=float(rng.choice([0, rng.uniform(90, 500)], p=[0.88, 0.12])),
    )


def _tinted(rng: np.random.Generator, strength: float) -> Colour:
    """Warm to cold; now and then any colour, as under a tarpaulin."""
    warm, green = rng.normal(0.06, 0.12), rng.normal(0, 0.025)
    colour = np.array([1 + warm, 1 + green, 1 - warm])
    if rng.random() < 0.06:
        colour = colour * rng.uniform(0.6, 1.3, 3)
    red, green, blue = strength * colour.clip(0.3, 1.6)
    return float(red), float(green), float(blue)
