"""Colours of skins, bark, stems and cut faces: wide, because no crop is like the next.

sRGB, 0 to 1; from memory of lifted clumps, no table is published.
"""

import numpy as np

from eyefind.workshop.anatomy import Tube, Vector

SKINS = np.array(
    [
        (0.87, 0.80, 0.66),
        (0.81, 0.71, 0.55),
        (0.76, 0.63, 0.46),
        (0.74, 0.57, 0.34),
        (0.66, 0.51, 0.35),
        (0.60, 0.45, 0.31),
        (0.63, 0.56, 0.47),
        (0.56, 0.53, 0.48),
        (0.72, 0.52, 0.43),
        (0.64, 0.42, 0.32),
        (0.54, 0.30, 0.23),
        (0.46, 0.30, 0.30),
        (0.42, 0.32, 0.24),
    ]
)
"""Sound skins: cream, ochre, tan, dusty grey, pink, red-brown, purple-brown, dark."""
STEMS = np.array(
    [
        (0.43, 0.50, 0.27),
        (0.46, 0.38, 0.25),
        (0.57, 0.50, 0.34),
        (0.74, 0.66, 0.45),
        (0.36, 0.30, 0.22),
        (0.24, 0.20, 0.16),
        (0.42, 0.28, 0.30),
        (0.46, 0.60, 0.22),
        (0.60, 0.62, 0.26),
    ]
)
"""Stems: green, brown, straw, rotted dark, purple."""
FACES = np.array(
    [
        (0.86, 0.84, 0.66),
        (0.80, 0.72, 0.52),
        (0.70, 0.67, 0.48),
        (0.58, 0.47, 0.32),
        (0.40, 0.31, 0.22),
    ]
)
"""Cut faces, from fresh to dried out."""
ROTS = np.array([(0.26, 0.19, 0.13), (0.13, 0.10, 0.09), (0.36, 0.30, 0.22)])
"""Soft patches: brown, nearly black, watery grey-brown."""
CRUMBS = np.array(
    [
        (0.30, 0.23, 0.17),
        (0.20, 0.15, 0.12),
        (0.42, 0.34, 0.26),
        (0.45, 0.43, 0.40),
        (0.58, 0.50, 0.40),
    ]
)
"""Crumbs that stick to a crown: soil dark and light, grit, dry clay."""
BARK = np.array([0.43, 0.35, 0.27])


def draw_skin(rng: np.random.Generator) -> Vector:
    """Draw the skin of a variety: (3,) sRGB."""
    one, other = SKINS[rng.integers(len(SKINS), size=2)]
    return spread(rng, one + rng.uniform(0, 0.6) * (other - one), 0.12, 0.015)


def spread(
    rng: np.random.Generator, colour: Vector, light: float, hue: float
) -> Vector:
    """Vary a colour.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    colour : (3,) array
        sRGB.
    light, hue : float
        Standard deviation of the lightness (as a share) and of each channel.

    Returns
    -------
    (3,) array
        sRGB within 0.03 to 0.95, greyer or stronger than before by up to a third.
    """
    grey = colour.mean()
    drawn = grey + (colour - grey) * rng.uniform(0.65, 1.3)
    drawn = drawn * np.exp(rng.normal(0, light)) + rng.normal(0, hue, 3)
    return np.asarray(np.clip(drawn, 0.03, 0.95))


def draw_bark(rng: np.random.Generator, skin: Vector) -> Vector:
    """Draw the colour of a crown: its own bark, or nearly the skin's."""
    share = rng.uniform(0.1, 0.9)
    mixed = (1 - share) * BARK + share * skin * rng.uniform(0.65, 1.05)
    return spread(rng, mixed * rng.uniform(0.6, 1.1), 0.15, 0.012)


def age(rng: np.random.Generator, tube: Tube) -> None:
    """Turn a tuber into a spent parent: hardly darker to black, wrinkled, mouldy.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    tube : Tube
        Changed in place.
    """
    tube.kind = "spent_parent"
    shade = (rng.uniform(0.78, 1.0), rng.uniform(0.4, 0.8), rng.uniform(0.15, 0.4))
    brown = np.array([1, rng.uniform(0.86, 1.0), rng.uniform(0.78, 1.0)])
    tube.colour = tube.colour * shade[rng.choice(3, p=[0.25, 0.4, 0.35])] * brown
    tube.wrinkles = float(rng.uniform(0.5, 1))
    tube.shrivel = float(rng.uniform(0.3, 1))
    tube.mould = float(rng.choice([0, rng.uniform(0.2, 0.9)], p=[0.65, 0.35]))
    tube.points = tube.points[0] + (tube.points - tube.points[0]) * rng.uniform(0.6, 1)
    if rng.random() < 0.5:
        along = np.linspace(0, 1, len(tube.radius))
        waves = np.sin(along * rng.uniform(12, 25) + rng.uniform(0, 6))
        depth = rng.uniform(0.08, 0.24)
        tube.radius = tube.radius * (1 - depth * (1 + waves) * (along > 0.15))
