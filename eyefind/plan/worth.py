"""What a piece carries and what it is worth, in plants to expect from it in spring."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SURE = 1e-12
"""Least chance of failure that is counted with, so that every weight is finite."""
ROUNDING = 1e-9
"""Rounding must not make a piece with exactly the asked chance unsafe."""


class Load(NamedTuple):
    """What a piece carries; the loads of its parts add up.

    Attributes
    ----------
    eyes : float
        Sum of ``-ln(1 - chance)`` over its eyes.
    bodies : float
        The same over its bodies' chances to keep through winter.
    sound : float
        Number of its bodies that are worth their room.
    """

    eyes: float
    bodies: float
    sound: float

    def plus(self, other: "Load") -> "Load":
        """Return both together."""
        return Load(
            self.eyes + other.eyes,
            self.bodies + other.bodies,
            self.sound + other.sound,
        )


NOTHING = Load(0.0, 0.0, 0.0)


def weight_of(chance: float) -> float:
    """Return ``-ln(1 - chance)``: the weights of what may fail apart add up."""
    return float(-np.log(max(1.0 - chance, SURE)))


def worth_of(load: Floats, safe_weight: float) -> Floats:
    """Return what pieces with loads (..., 3) are worth; minus infinity if not safe.

    A piece is worth the chance that it has an eye times the chance that a body keeps.
    """
    # No plan uses what a table holds below its diagonal: loads less than nothing.
    eyes, bodies, sound = np.moveaxis(np.maximum(load, 0.0), -1, 0)
    safe = (eyes >= safe_weight - ROUNDING) & (sound > 0.5)
    return np.where(safe, -np.expm1(-eyes) * -np.expm1(-bodies), -np.inf)


def not_beaten(
    worth: Floats, load: Floats, most: Floats, safe_weight: float
) -> NDArray[np.intp]:
    """Return which plans with an open piece no other beats, whatever grows on.

    One beats another if it is as good in worth and load; or if it is better as it is,
    should nothing grow on, than the other with the most that can.
    """
    as_it_is = worth + worth_of(load, safe_weight)
    at_best = worth + float(worth_of(most, safe_weight))
    kept = np.flatnonzero(at_best >= as_it_is.max(initial=-np.inf))
    table = np.column_stack([worth, load])[kept]
    as_good = (table[None] >= table[:, None]).all(axis=2)
    # Of those that are alike the first stays.
    beaten = as_good & (~as_good.T | np.tri(len(kept), k=-1, dtype=bool))
    left: NDArray[np.intp] = kept[~beaten.any(axis=1)]
    return left
