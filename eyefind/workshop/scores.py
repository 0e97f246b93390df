"""Scores: what the results of many clumps come to, with intervals."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Clump = TypeVar("Clump")

DRAWS = 1000
"""Bootstrap samples: the ends of a 95 % interval are then good to about 0.01."""
BIN_EDGES = (0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 1.0)
"""Bins of the reliability table: finer where most flags are."""


@dataclass(frozen=True)
class Value:
    """A score, its 95 % interval and how many things it counts."""

    value: float
    low: float
    high: float
    count: int

    def __str__(self) -> str:
        """Write it as a table shows it."""
        if np.isnan(self.value):
            return f"- (n = {self.count})"
        return f"{self.value:.2f} ({self.low:.2f} to {self.high:.2f}; n = {self.count})"


@dataclass(frozen=True, eq=False)
class Ranked:
    """The flags of one clump in order of falling likelihood.

    Attributes
    ----------
    likelihood : (N,) array
        Falling.
    hit : (N,) bool array
        Whether each found something (`match.hits_by_rank`).
    wanted : (N,) bool array
        Whether what it found is among those counted; a hit that is not wanted is
        neither found nor false.
    total : int
        How many there are to be found.
    """

    likelihood: Floats
    hit: Bools
    wanted: Bools
    total: int


def recall_at(clumps: Sequence[Ranked], false_per_clump: float) -> float:
    """Recall at one point of `recall_curve`."""
    return float(recall_curve(clumps, np.array([false_per_clump]))[0])


def recall_curve(clumps: Sequence[Ranked], false_per_clump: Floats) -> Floats:
    """Recall where one threshold for all lets so many false flags per clump through.

    Parameters
    ----------
    clumps : sequence of Ranked
        The flags.
    false_per_clump : (N,) array
        Allowed false flags per clump on the average. The threshold stops before the
        first flag that would exceed it; flags of equal likelihood go together.

    Returns
    -------
    (N,) array
        Recall; nan when there is nothing to find.
    """
    total = sum(clump.total for clump in clumps)
    if total == 0:
        return np.full(len(false_per_clump), np.nan)
    _, hits, false = _sweep(clumps)
    allowed = false_per_clump * len(clumps) + 1e-9
    kept = np.searchsorted(false, allowed, side="right")
    return np.concatenate([[0.0], hits])[kept] / total


def threshold_at(clumps: Sequence[Ranked], false_per_clump: float) -> float:
    """Lowest likelihood that still keeps to so many false flags per clump."""
    likelihood, _, false = _sweep(clumps)
    allowed = false <= false_per_clump * len(clumps) + 1e-9
    return float(likelihood[allowed].min(initial=np.inf))


def average_precision(clumps: Sequence[Ranked]) -> float:
    """Area under precision over recall, as a sum of steps (no interpolation)."""
    total = sum(clump.total for clump in clumps)
    if total == 0:
        return float("nan")
    _, hits, false = _sweep(clumps)
    precision = hits / np.maximum(hits + false, 1)
    return float(np.sum(np.diff(hits, prepend=0) * precision) / total)


def _sweep(clumps: Sequence[Ranked]) -> tuple[Floats, Floats, Floats]:
    """Thresholds, and the hits and false flags at or above each."""
    if not clumps:
        return np.empty(0), np.empty(0), np.empty(0)
    likelihood = np.concatenate([clump.likelihood for clump in clumps])
    hit = np.concatenate([clump.hit & clump.wanted for clump in clumps])
    false = np.concatenate([~clump.hit for clump in clumps])
    order = np.argsort(-likelihood, kind="stable")
    likelihood = likelihood[order]
    last = np.append(np.diff(likelihood) != 0, True)[: len(likelihood)]
    return (
        likelihood[last],
        np.cumsum(hit[order])[last].astype(float),
        np.cumsum(false[order])[last].astype(float),
    )


def auroc(score: Floats, positive: Bools) -> float:
    """Chance that a positive scores above a negative, ties counting half.

    The Mann-Whitney statistic over the number of pairs; nan without both kinds.
    """
    many, others = int(positive.sum()), int((~positive).sum())
    if many == 0 or others == 0:
        return float("nan")
    ranks = rankdata(score)
    above = ranks[positive].sum() - many * (many + 1) / 2
    return float(above / (many * others))


def roc(score: Floats, positive: Bools) -> tuple[Floats, Floats]:
    """Receiver operating characteristic: what a falling threshold lets through.

    Parameters
    ----------
    score : (N,) array
        Scores; equal ones pass together.
    positive : (N,) bool array
        Which of them should pass; some must, and some must not.

    Returns
    -------
    wrong, right : (M,) array
        Share of the negatives and of the positives that passed, each from 0 to 1.
    """
    thresholds = np.append(np.inf, np.unique(score)[::-1])
    passed = score[None] >= thresholds[:, None]
    return passed[:, ~positive].mean(axis=1), passed[:, positive].mean(axis=1)


def panoptic_quality(overlaps: Sequence[float], found: int, true: int) -> float:
    """Panoptic quality (Kirillov et al., CVPR 2019).

    Parameters
    ----------
    overlaps : sequence of float
        Intersection over union of each matched pair, all above 0.5.
    found, true : int
        Regions found and regions there.

    Returns
    -------
    float
        Sum of overlaps over (matches + half of those unmatched); nan with none.
    """
    missed = (found - len(overlaps)) + (true - len(overlaps))
    weight = len(overlaps) + missed / 2
    return float(sum(overlaps) / weight) if weight else float("nan")


def brier(clumps: Sequence[Ranked]) -> float:
    """Mean squared distance of likelihood and outcome (Brier 1950); nan without any."""
    likelihood, hit = _pooled(clumps)
    return float(np.mean((likelihood - hit) ** 2)) if len(hit) else float("nan")


@dataclass(frozen=True)
class Bin:
    """Flags of about the same likelihood.

    Attributes
    ----------
    low, high, mean : float
        Ends of the bin, and the mean likelihood within.
    share : Value
        Share of them that found something.
    """

    low: float
    high: float
    mean: float
    share: Value


def reliability(clumps: Sequence[Ranked]) -> list[Bin]:
    """Set likelihood against outcome, in those of the bins that hold flags."""
    likelihood, _ = _pooled(clumps)
    bins = []
    for low, high in pairwise(BIN_EDGES):
        inside = _inside(likelihood, low, high)
        if inside.any():
            share = with_interval(
                partial(_share_in, low=low, high=high), clumps, int(inside.sum())
            )
            bins.append(Bin(low, high, float(likelihood[inside].mean()), share))
    return bins


def _share_in(clumps: Sequence[Ranked], low: float, high: float) -> float:
    likelihood, hit = _pooled(clumps)
    inside = _inside(likelihood, low, high)
    return float(hit[inside].mean()) if inside.any() else float("nan")


def _inside(likelihood: Floats, low: float, high: float) -> Bools:
    last = high == BIN_EDGES[-1]
    return (likelihood >= low) & ((likelihood < high) | last)


def _pooled(clumps: Sequence[Ranked]) -> tuple[Floats, Bools]:
    if not clumps:
        return np.empty(0), np.empty(0, bool)
    return (
        np.concatenate([clump.likelihood for clump in clumps]),
        np.concatenate([clump.hit for clump in clumps]),
    )


def with_interval(
    score: Callable[[Sequence[Clump]], float],
    clumps: Sequence[Clump],
    count: int,
    seed: int = 0,
) -> Value:
    """Score with its 95 % interval, from clumps drawn with replacement.

    Whole clumps are drawn, since the flags of one clump share its light and skin.

    Parameters
    ----------
    score : callable
        Takes clumps, gives a number (nan when it cannot).
    clumps : sequence
        One item a clump.
    count : int
        How many things the score counts, for the table.
    seed : int
        Seed of the drawing.

    Returns
    -------
    Value
        Score and interval (percentiles 2.5 and 97.5).
    """
    value = score(clumps)
    if np.isnan(value):
        return Value(value, value, value, count)
    low, high = interval(score, clumps, seed)
    return Value(value, float(low), float(high), count)


def interval(
    score: Callable[[Sequence[Clump]], float | Floats],
    clumps: Sequence[Clump],
    seed: int = 0,
) -> Floats:
    """Return the ends of the 95 % interval of a score, or of each of a curve's points.

    Takes what `with_interval` takes; gives a (2, ...) array. The percentile bootstrap
    (Efron and Tibshirani 1993, chapter 13).
    """
    random = np.random.default_rng(seed)
    picks = random.integers(0, len(clumps), (DRAWS, len(clumps)))
    drawn = np.array([score([clumps[i] for i in pick]) for pick in picks])
    return np.asarray(np.nanpercentile(drawn, [2.5, 97.5], axis=0))
