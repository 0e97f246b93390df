"""Which tuber of one photo is which of another: by shape and order around the stem.

A clump that was turned shows its tubers in the same order around the stem, one that
was flipped over in the mirrored order. Every turn of both is tried. For each, the two
rows of tubers are laid beside one another by dynamic programming (S. Needleman and C.
Wunsch 1970, J. Mol. Biol. 48:443-453): a tuber pairs with one of like shape or, being
hidden on the other photo, with none.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from eyefind.data import Anatomy, Points, Tuber
from eyefind.sides.pairs import Pairs

Floats = NDArray[np.float64]

SHAPE_SPREAD: Final = np.array([0.25, 0.15, 0.35])
"""By how much a tuber's length, thickness and neck differ between two sides: standard
deviations of their logarithms. Length shortens most when it points at the camera. Held
to be sensible, not measured."""
TURN_SPREAD: Final = np.deg2rad(30.0)
"""By how much a tuber's bearing is off after the turn that fits best. Held to be
sensible, not measured."""
UNPAIRED: Final = 3.0
"""What a tuber without a partner costs: as much as a pair that is off by some two and
a half standard deviations."""
CLOSE: Final = 2.0
"""A suggestion is sure when every other turn costs more by this. The costs are minus
two logarithms of a likelihood, so the next best is then less than half as likely."""


@dataclass(frozen=True)
class Suggestion:
    """Which tuber is which.

    Attributes
    ----------
    pairs : dict of str to str
        Tuber of the first photo -> tuber of the second one.
    flipped : bool
        Whether the clump was flipped over, not only turned.
    sure : bool
        Whether no other turn fits nearly as well; a single pair may be wrong all the
        same.
    """

    pairs: Pairs
    flipped: bool
    sure: bool


def suggest(main: Anatomy, side: Anatomy) -> Suggestion:
    """Suggest which tuber of one photo is which of another.

    Parameters
    ----------
    main, side : Anatomy
        Parts of the same clump on two photos.

    Returns
    -------
    Suggestion
        Tubers that grow from other tubers have no partner; none has if a photo shows
        no tuber on the crown.
    """
    ours, theirs = _around(main), _around(side)
    if not ours or not theirs:
        return Suggestion({}, False, False)
    apart = _shapes(ours)[:, None] - _shapes(theirs)[None]
    cost = ((apart / SHAPE_SPREAD) ** 2).sum(axis=2)
    at, there = _bearings(main, ours), _bearings(side, theirs)
    found = []
    for flipped in (False, True):
        row = np.arange(len(theirs))[:: -1 if flipped else 1]
        for turn in range(len(theirs)):
            order = np.roll(row, -turn)
            aligned, total = _aligned(cost[:, order])
            matched = [(i, int(order[j])) for i, j in aligned]
            total += _scatter(at, -there if flipped else there, matched)
            found.append((total, flipped, matched))
    found.sort(key=lambda way: way[0])
    total, flipped, best = found[0]
    others = [way[0] for way in found if way[2] != best]
    sure = bool(best) and (not others or min(others) - total >= CLOSE)
    partner = {ours[i].id: theirs[j].id for i, j in best}
    pairs = {t.id: partner[t.id] for t in main.tubers if t.id in partner}
    return Suggestion(pairs, flipped, sure)


def _middle(anatomy: Anatomy) -> Points:
    crown = anatomy.crown_outline_px
    if len(crown):
        return np.asarray(crown.mean(axis=0))
    necks = [tuber.neck_rc_px for tuber in anatomy.tubers]
    return np.asarray(np.nanmean(necks, axis=0))


def _around(anatomy: Anatomy) -> list[Tuber]:
    """Return the tubers on the crown, clockwise."""
    known = {tuber.id for tuber in anatomy.tubers}
    own = [
        tuber
        for tuber in anatomy.tubers
        if tuber.attached_to not in known and np.isfinite(tuber.neck_rc_px).all()
    ]
    turns = _bearings(anatomy, own) % (2 * np.pi)
    return [own[k] for k in np.argsort(turns, kind="stable")]


def _bearings(anatomy: Anatomy, tubers: list[Tuber]) -> Floats:
    """Return the bearing of each neck from the crown's middle, clockwise from up."""
    if not tubers:
        return np.zeros(0)
    row, col = (np.array([t.neck_rc_px for t in tubers]) - _middle(anatomy)).T
    turns: Floats = np.arctan2(col, -row)
    return turns


def _shapes(tubers: list[Tuber]) -> Floats:
    """Return the logarithms of each tuber's length, thickness and neck, (N, 3)."""
    sizes = [[t.length_mm, t.max_diameter_mm, t.neck_width_mm] for t in tubers]
    logs: Floats = np.log(np.maximum(np.nan_to_num(sizes), 1.0))
    return logs


def _aligned(cost: Floats) -> tuple[list[tuple[int, int]], float]:
    """Pair two rows in their order at the least cost; return pairs and cost."""
    rows, cols = cost.shape
    least = np.full((rows + 1, cols + 1), np.inf)
    least[:, 0] = UNPAIRED * np.arange(rows + 1)
    least[0, :] = UNPAIRED * np.arange(cols + 1)
    for i in range(rows):
        for j in range(cols):
            alone = min(least[i, j + 1], least[i + 1, j]) + UNPAIRED
            least[i + 1, j + 1] = min(least[i, j] + cost[i, j], alone)
    pairs = []
    i, j = rows, cols
    while i and j:
        if least[i, j] == least[i - 1, j - 1] + cost[i - 1, j - 1]:
            i, j = i - 1, j - 1
            pairs.append((i, j))
        elif least[i, j] == least[i - 1, j] + UNPAIRED:
            i -= 1
        else:
            j -= 1
    return pairs[::-1], float(least[rows, cols])


def _scatter(at: Floats, there: Floats, pairs: list[tuple[int, int]]) -> float:
    """Return what it costs that the bearings differ by more than one turn of all."""
    if not pairs:
        return 0.0
    ours, theirs = np.array(pairs).T
    turns = np.exp(1j * (at[ours] - there[theirs]))
    off = np.angle(turns * np.conj(turns.mean()))
    return float(((off / TURN_SPREAD) ** 2).sum())
