"""The cyclic dynamic programme over the strokes around one hub."""

from collections.abc import Iterator

import numpy as np

from eyefind.plan.worth import Floats, not_beaten, worth_of

At = tuple[int, int, int] | None
"""First stroke, last stroke, closed pieces between them; None without strokes."""


class Circle:
    """The cyclic programme over one ring.

    ``best[s, j, k]`` is the worth of the best strokes from s on whose last one is j,
    with k pieces between them; the piece from j back to s crosses the start.
    """

    def __init__(self, cost: Floats, load: Floats, safe_weight: float) -> None:
        self.safe_weight = safe_weight
        self.whole = load.sum(axis=0)
        count = len(cost)
        sums = np.concatenate([np.zeros((1, 3)), np.cumsum(load, axis=0)])[:count]
        inside = sums[None] - sums[:, None]
        self._across = self.whole - inside
        between = worth_of(inside, safe_weight)
        with_eyes = int((load[:, 0] > 0).sum())
        self._best = np.full((count, count, with_eyes + 1), -np.inf)
        self._came = np.zeros(self._best.shape, dtype=np.int64)
        for last in range(count):
            if last:
                ways = self._best[:, :last, :-1] + between[None, :last, last, None]
                self._came[:, last, 1:] = ways.argmax(axis=1)
                self._best[:, last, 1:] = ways.max(axis=1) - cost[last]
            self._best[last, last, 0] = -cost[last]

    def closed(self) -> Iterator[tuple[int, float, Floats, At]]:
        """Give the best plan for each number of pieces, all of them closed."""
        worth = float(worth_of(self.whole, self.safe_weight))
        if np.isfinite(worth):
            yield 1, worth, np.zeros(3), None
        if not self._best.size:
            return
        crossing = worth_of(self._across, self.safe_weight)
        np.fill_diagonal(crossing, -np.inf)
        total = (self._best + crossing[:, :, None]).reshape(-1, self._best.shape[2])
        for k, at in enumerate(total.argmax(axis=0)):
            if np.isfinite(total[at, k]):
                first, last = np.unravel_index(at, crossing.shape)
                where = int(first), int(last), k
                yield k + 1, float(total[at, k]), np.zeros(3), where

    def open(self, most: Floats) -> Iterator[tuple[int, float, Floats, At]]:
        """Give the plans whose piece across the start is open and may become best.

        Parameters
        ----------
        most : (3,) array
            The most that the open piece may ever carry.
        """
        yield 0, 0.0, self.whole, None
        for k in range(self._best.shape[2] if self._best.size else 0):
            first, last = np.nonzero(np.triu(np.isfinite(self._best[:, :, k]), 1))
            found, load = self._best[first, last, k], self._across[first, last]
            for n in not_beaten(found, load, most, self.safe_weight):
                at = int(first[n]), int(last[n]), k
                yield k, float(found[n]), load[n], at

    def strokes(self, at: At) -> list[int]:
        """Return the strokes of a plan."""
        if at is None:
            return []
        first, last, pieces = at
        chosen = [last]
        for k in range(pieces, 0, -1):
            chosen.append(int(self._came[first, chosen[-1], k]))
        return chosen
