"""Which strokes to make: a cyclic dynamic programme over the gaps around a hub.

It knows no geometry: strokes in a circle, what lies between neighbours, what a stroke
costs. It finds the set of strokes with the most safe pieces; among those the one with
the fewest pieces in doubt; among those the cheapest.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

SURE = 1e-12
"""Least chance of failure that an eye is counted with, so that its weight is finite."""
SAFE_SCORE, DOUBT_SCORE = 1e6, 1e3
"""Scores that keep the three aims apart: no plan costs as much as one doubt."""
MOST_COST = 9.0
"""Most that one stroke may cost."""


class Worth(NamedTuple):
    """How good a division is; compares as a tuple, larger is better."""

    safe: int
    minus_doubtful: int
    minus_cost: float

    def plus(self, other: "Worth", cost: float = 0.0) -> "Worth":
        """Return the worth of two divisions and a cut of `cost` between them."""
        return Worth(
            self.safe + other.safe,
            self.minus_doubtful + other.minus_doubtful,
            self.minus_cost + other.minus_cost - cost,
        )


@dataclass(frozen=True, eq=False)
class Circle:
    """Strokes around a hub, clockwise, and what lies in the slot after each.

    Attributes
    ----------
    cost : (M,) array
        Cost of each stroke, at most `MOST_COST`.
    tubers : (M,) array of int
        Number of tubers in each slot.
    sound : (M,) array of int
        Number of them whose body is worth its room.
    weight : (M,) array
        Sum of ``-ln(1 - chance)`` over the eyes in each slot.
    """

    cost: NDArray[np.float64]
    tubers: NDArray[np.int64]
    sound: NDArray[np.int64]
    weight: NDArray[np.float64]


def weight_of(chance: float) -> float:
    """Return ``-ln(1 - chance)``: the weights of a piece's eyes add up."""
    return float(-np.log(max(1.0 - chance, SURE)))


def is_safe(weight: float, sound: int, safe_chance: float) -> bool:
    """Whether a piece has an eye for sure enough and a body worth its room."""
    # Rounding must not make a piece with exactly the asked chance unsafe.
    return sound > 0 and weight >= weight_of(safe_chance) - 1e-9


def choose_strokes(circle: Circle, safe_chance: float) -> tuple[list[int], Worth]:
    """Choose the strokes that make the best pieces.

    Parameters
    ----------
    circle : Circle
        The strokes that may be made.
    safe_chance : float
        A piece with at least this chance of an eye is safe.

    Returns
    -------
    chosen : list of int
        Ascending; empty if one piece is best, else at least two.
    worth : Worth
        Of the pieces.
    """
    count = len(circle.cost)
    whole = _whole(circle, safe_chance)
    if count < 2:
        return [], whole
    value = _values(circle, safe_chance)
    # best[s, j]: strokes from s on, the last one being j.
    best = np.full((count, count), -np.inf)
    came = np.zeros((count, count), dtype=np.int64)
    starts = np.arange(count)
    for last in range(count):
        ways = best[:, :last] + value[None, :last, last]
        if last:
            came[:, last] = ways.argmax(axis=1)
            best[:, last] = ways.max(axis=1) - circle.cost[last]
        best[last:, last] = -np.inf
        best[last, last] = -circle.cost[last]
    closed = best + value.T
    closed[starts, starts] = -np.inf
    start, end = (int(k) for k in np.unravel_index(closed.argmax(), closed.shape))
    if not closed[start, end] > _score(whole):
        return [], whole
    chosen = [end]
    while chosen[-1] != start:
        chosen.append(int(came[start, chosen[-1]]))
    chosen.reverse()
    return chosen, _worth(circle, chosen, value)


def _whole(circle: Circle, safe_chance: float) -> Worth:
    safe = is_safe(circle.weight.sum(), int(circle.sound.sum()), safe_chance)
    return Worth(int(safe), -int(not safe), 0.0)


def _values(circle: Circle, safe_chance: float) -> NDArray[np.float64]:
    """Score of the piece between each stroke and each later one; (M, M)."""
    count = len(circle.cost)
    first, last = np.indices((count, count))
    last = np.where(last <= first, last + count, last)

    def between(
        amounts: NDArray[np.float64] | NDArray[np.int64],
    ) -> NDArray[np.float64]:
        sums = np.concatenate([[0.0], np.cumsum(np.tile(amounts, 2))])
        return np.asarray(sums[last] - sums[first])

    enough = between(circle.weight) >= weight_of(safe_chance) - 1e-9
    safe = enough & (between(circle.sound) > 0.5)
    value = np.where(safe, SAFE_SCORE, -DOUBT_SCORE)
    return np.where(between(circle.tubers) > 0.5, value, -np.inf)


def _score(worth: Worth) -> float:
    doubt = DOUBT_SCORE * worth.minus_doubtful
    return SAFE_SCORE * worth.safe + doubt + worth.minus_cost


def _worth(circle: Circle, chosen: list[int], value: NDArray[np.float64]) -> Worth:
    pieces = [
        value[first, last]
        for first, last in zip(chosen, chosen[1:] + chosen[:1], strict=True)
    ]
    safe = sum(piece > 0 for piece in pieces)
    return Worth(safe, safe - len(pieces), -float(circle.cost[chosen].sum()))
