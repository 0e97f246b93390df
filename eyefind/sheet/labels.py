"""Places for labels: near what they name, off the eyes and off each other."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise, product
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, contains_xy
from shapely.geometry.base import BaseGeometry

Path = NDArray[np.float64]
Box = tuple[float, float, float, float, float]
"""Left, top, right, bottom, and how bad it would be to cover it."""

# Weights of the greedy choice, found by looking at sheets: px of way that one fully
# covered label is worth. Covering an eye or a label must never be cheaper than moving.
EYE_WEIGHT: Final = 40.0
LABEL_WEIGHT: Final = 40.0
LINE_WEIGHT: Final = 3.0
LEADER_WEIGHT: Final = 2.0
ARROW_WEIGHT: Final = 8.0
OTHERS: Final = 5.0
"""How many labels' sizes of way it costs to stand on what another label names."""
TOUCH: Final = 0.25
"""Least share that a label or an eye counts as covered with, however little is."""
SPOTS: Final = 0.8 * np.array(list(product((-1.0, 0.0, 1.0), repeat=2)))
"""Places of a label at which it is checked what it stands on, in its half sizes."""
ROUNDS: Final = 2
"""How often each of many labels is placed; the last time it knows of all others."""
HOPES: Final = (1.0, 3.0, 6.0)
"""How bad it may be that one takes the place that a later one would like best."""
RINGS: Final = 20
"""How many rings of places around an anchor are tried."""
TURNS: Final = 24
"""How many places on each ring."""
GRID: Final = 24
"""How many rows and columns of places in a region are tried."""
LEADER_STEPS: Final = np.linspace(0.02, 1.0, 50)
"""Where along a leader it is checked what it runs over."""


class Label(NamedTuple):
    """A label that looks for its place.

    Attributes
    ----------
    place : callable
        Chooses the place, marks it as taken and returns its centre.
    hope : callable
        Marks the place that it would like best, with a weight: labels that are placed
        before it keep off where they can.
    """

    place: Callable[[], Path]
    hope: Callable[[float], None] = lambda _: None


@dataclass
class Places:
    """The boxes that are taken, and the choice of free ones.

    Attributes
    ----------
    size : (2,) array
        Width and height px of the picture.
    taken : list of Box
        What should not be covered, and how bad it would be.
    cost : float
        How bad the place chosen last is.
    """

    size: Path
    taken: list[Box] = field(default_factory=list)
    cost: float = 0.0

    def keep_clear(self, centre: Path, half: Path | float, weight: float) -> None:
        """Mark the box of half size `half` around `centre` as taken."""
        low, high = centre - half, centre + half
        self.taken.append((*low, *high, weight))

    def keep_line_clear(
        self, path: Path, half: float, weight: float = LINE_WEIGHT
    ) -> None:
        """Mark boxes of half size `half` along `path` as taken."""
        for start, end in pairwise(path):
            steps = max(1, int(np.hypot(*(end - start)) / (2 * half)))
            for share in np.linspace(0.0, 1.0, steps + 1):
                self.keep_clear(start + share * (end - start), half, weight)

    def settle(self, labels: Sequence[Label]) -> list[Path]:
        """Place labels, each again among all others, so that all lie well together."""
        free = list(self.taken)
        found: list[tuple[float, list[Path], list[Box]]] = []
        for weight in HOPES:
            self.taken = list(free)
            found.append((*self._settled(labels, weight), self.taken))
        _, places, self.taken = min(found, key=lambda one: one[0])
        return places

    def _settled(
        self, labels: Sequence[Label], weight: float
    ) -> tuple[float, list[Path]]:
        """Return what the places cost together, and the places."""
        places, costs = [np.zeros(2)] * len(labels), [0.0] * len(labels)
        held: list[list[Box]] = []
        for label in labels:
            before = len(self.taken)
            label.hope(weight)
            held.append(self.taken[before:])
        for number in [*range(len(labels))] * ROUNDS:
            for box in held[number]:
                self.taken.remove(box)
            before = len(self.taken)
            places[number] = labels[number].place()
            costs[number], held[number] = self.cost, self.taken[before:]
        return sum(costs), places

    def choose(
        self,
        anchor: Path,
        box: Path,
        own: Polygon | None = None,
        ahead: Path | None = None,
        least: float = 0.0,
        arrow_half: float = 0.0,
        others: BaseGeometry | None = None,
    ) -> Path:
        """Return the centre of the best box and mark it as taken.

        Parameters
        ----------
        anchor : (2,) array
            What the label names, (x, y) px.
        box : (2,) array
            Width and height px of the label.
        own : Polygon, optional
            Region that the label names: any place inside it needs no leader.
        ahead : (2,) array, optional
            Unit vector of the side of `anchor` that is liked best.
        least : float
            Distance px that the label's centre keeps from `anchor`.
        arrow_half : float
            Half the width px of the arrow from label to `anchor`; 0 for a thin line.
        others : geometry, optional
            Regions that other labels name: there it would be taken for one of those.

        Returns
        -------
        (2,) array
            Centre of the label, wholly inside the picture.
        """
        half = box / 2
        centres = self._candidates(anchor, half, own, least)
        away = np.hypot(*(centres - anchor).T)
        cost = away + box.max() * self._covered(centres, half)
        cost += away * self._crossed(centres, anchor, arrow_half)
        cost += np.where(away < 0.95 * least, 10 * box.max(), 0.0)
        if own is not None:
            within = contains_xy(own.buffer(-0.6 * half.min()), centres)
            cost += np.where(within, -0.85 * away, 1.5 * box.max())
        if others is not None:
            spots = (centres[:, None] + half * SPOTS).reshape(-1, 2)
            over = contains_xy(others, spots).reshape(len(centres), -1)
            cost += OTHERS * box.max() * over.mean(axis=1)
            leader = anchor + LEADER_STEPS[:, None, None] * (centres - anchor)
            across = contains_xy(others, leader[..., 0], leader[..., 1])
            cost += ARROW_WEIGHT * away * across.mean(axis=0)
        if ahead is not None:
            cosine = (centres - anchor) @ ahead / np.maximum(away, 1e-9)
            cost += 0.5 * box.max() * (1.0 - cosine)
        self.cost = float(cost.min())
        best: Path = centres[int(np.argmin(cost))]
        self.keep_clear(best, half * 1.1, LABEL_WEIGHT)
        return best

    def fit(self, anchor: Path, box: Path, own: Polygon) -> Path | None:
        """Return the free place in `own`, half a label inside, nearest to `anchor`."""
        half = box / 2
        centres = self._candidates(anchor, half, own, 0.0)
        free = self._covered(centres, half) == 0.0
        free &= contains_xy(own.buffer(-half.min()), centres)
        if not free.any():
            return None
        away = np.hypot(*(centres[free] - anchor).T)
        best: Path = centres[free][int(np.argmin(away))]
        self.keep_clear(best, half * 1.1, LABEL_WEIGHT)
        return best

    def _candidates(
        self, anchor: Path, half: Path, own: Polygon | None, least: float
    ) -> Path:
        turns = np.linspace(0.0, 2 * np.pi, TURNS, endpoint=False)
        circle = np.stack([np.sin(turns), -np.cos(turns)], axis=1)
        reach = least + 0.6 * half.min() * np.arange(RINGS)
        centres: Path = anchor + (reach[:, None, None] * circle).reshape(-1, 2)
        if own is not None:
            left, top, right, bottom = own.bounds
            cols, rows = np.linspace(left, right, GRID), np.linspace(top, bottom, GRID)
            grid = np.stack(np.meshgrid(cols, rows), axis=-1).reshape(-1, 2)
            centres = np.concatenate([centres, grid])
        inmost = half * 1.1
        return np.clip(centres, inmost, np.maximum(self.size - inmost, inmost))

    def _covered(self, centres: Path, half: Path) -> Path:
        """Return the weighted share of each candidate that covers something."""
        taken = np.array(self.taken).reshape(-1, 5)
        low = np.maximum(centres[:, None] - half, taken[:, 0:2])
        high = np.minimum(centres[:, None] + half, taken[:, 2:4])
        overlap = np.prod(np.clip(high - low, 0.0, None), axis=2)
        areas = np.prod(taken[:, 2:4] - taken[:, 0:2], axis=1)
        shares = overlap / np.minimum(areas, np.prod(2 * half))
        touched = (overlap > 0.0) & (taken[:, 4] > LINE_WEIGHT)
        covered: Path = (
            np.where(touched, np.maximum(shares, TOUCH), shares) @ taken[:, 4]
        )
        return covered

    def _crossed(self, centres: Path, anchor: Path, half: float) -> Path:
        """Return how much of each candidate's leader runs over labels and flags."""
        taken = np.array(self.taken).reshape(-1, 5)
        taken = taken[taken[:, 4] > LINE_WEIGHT]
        points = anchor + LEADER_STEPS[:, None, None] * (centres - anchor)
        x, y = points[..., 0], points[..., 1]
        over = np.zeros(x.shape, bool)
        for left, top, right, bottom in np.hstack(
            [taken[:, 0:2] - half, taken[:, 2:4] + half]
        ):  # One after the other: all at once takes ten times as long.
            over |= (x >= left) & (x <= right) & (y >= top) & (y <= bottom)
        weight = ARROW_WEIGHT if half else LEADER_WEIGHT
        crossed: Path = weight * np.mean(over, axis=0)
        return crossed
