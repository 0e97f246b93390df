"""Egg-shaped bits that stand out of a surface: buds like grains, crumbs of soil."""

import numpy as np

from eyefind.workshop.anatomy import Clump, Mark, Tube, Vector
from eyefind.workshop.tones import CRUMBS, spread

POINTS = 9
"""Spheres along one grain."""
SLIM = (1.1, 2.4)
"""Length over thickness, from to; a sphere cannot be swept along anything."""
CRUMB_MM = (0.5, 2.6)
"""Half the mean size of a crumb, from to."""


def grain(rng: np.random.Generator, mark: Mark, name: str) -> Tube:
    """Shape a bud like a grain at the place of its mark.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    mark : Mark
        Where it sits; its radius is half the mean of length and thickness.
    name : str
        Id of the grain.

    Returns
    -------
    Tube
        Attached to what the mark was put on; lying, leaning or upright, by a tenth to
        nine tenths sunk in.
    """
    slim = rng.uniform(*SLIM)
    long, thick = mark.radius * slim**0.5, mark.radius / slim**0.5
    aside = rng.normal(0, 1, 3)
    aside -= mark.normal * (aside @ mark.normal)
    axis = mark.normal * rng.uniform(0, 1.2) + aside / np.linalg.norm(aside)
    axis /= np.linalg.norm(axis)
    upright = float(axis @ mark.normal) ** 2
    tall = np.sqrt(long**2 * upright + thick**2 * (1 - upright))
    middle = mark.place + mark.normal * tall * rng.uniform(-0.3, 0.8)
    tube = _egg(middle, axis, long, thick)
    tube.id, tube.attached_to, tube.colour = name, mark.on, mark.colour
    return tube


def strew_crumbs(rng: np.random.Generator, clump: Clump, count: int) -> None:
    """Stick crumbs of soil and grit to the crown, in place: what buds must not be.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    clump : Clump
        Gets the crumbs as tubes.
    count : int
        How many.
    """
    for _ in range(count):
        way = rng.normal(0, 1, 3)
        place, normal = clump.exit_of(way / np.linalg.norm(way))
        radius = float(np.exp(rng.uniform(*np.log(CRUMB_MM))))
        colour = spread(rng, CRUMBS[rng.integers(len(CRUMBS))], 0.15, 0.01)
        spot = Mark("clod", place, normal, radius, 0.0, colour, 0.0)
        crumb = grain(rng, spot, "")
        crumb.wrinkles = crumb.blotches = 1.0
        crumb.radius = crumb.radius * np.exp(rng.normal(0, 0.12, POINTS))
        clump.tubes.append(crumb)


def _egg(middle: Vector, axis: Vector, long: float, thick: float) -> Tube:
    """Sweep a sphere so that it fills a spheroid of these half axes, mm."""
    reach = (long**2 - thick**2) / long
    along = np.linspace(-reach, reach, POINTS)
    radius = thick * np.sqrt(1 - along**2 / (long**2 - thick**2))
    points = middle + along[:, None] * axis
    return Tube("grain", "", points, radius, wrinkles=0.0, lenticels=0.0, blotches=0.0)
