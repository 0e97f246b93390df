"""The scale of a photo without card or length, found by the looks of its tubers.

The network says of every place on a tuber how many millimetres it is to that tuber's
middle. Go one pixel towards the middle, and that way gets shorter by one pixel's worth
of millimetres: so its fall tells the scale, all over the clump and without knowing
which tuber is which. The network reads millimetres off skin, necks and crown; they are
its opinion, so the clump is shown at several sizes and the opinions are averaged.
What it reaches: docs/accuracy.md.
"""

import numpy as np

from eyefind.data import Mask, Pixels, Scale
from eyefind.look.seen import MOST_PX, see_cut_out
from eyefind.model import Answers
from eyefind.model.network import PARTS
from eyefind.reduce import reduced, size_at, window_of

SHOWN_PX_PER_MM = (4.0, 5.4)
"""Scales, by the first opinion, at which the clump is shown again: on smaller pictures
the network takes tubers for shorter than they are."""
MARGIN_MM = 10.0
"""Bench shown around the clump."""
LEAST_BODY = 0.6
"""Chance of a place to be tuber from which on its word counts."""
APART_PX = 4
"""Two places whose ways to the middle are compared, px of the answers."""
LEAST_PAIRS = 50
"""Fewer pairs of places tell nothing."""
RELATIVE_SD = 0.25
"""How far off it was on a family never trained on (docs/accuracy.md)."""


def scale_by_looks(rgb: Pixels, clump: Mask, seen: Answers) -> Scale | None:
    """Find the scale by the looks of the clump.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    clump : (H, W) bool array
        The clump, not empty.
    seen : Answers
        What the network says of the whole photo.

    Returns
    -------
    Scale or None
        Source ``"looks"``; None when no tuber tells anything.
    """
    first = told_px_per_mm(seen)
    if first is None:
        return None
    told = [_told_at(rgb, clump, first, shown / first) for shown in SHOWN_PX_PER_MM]
    known = [px_per_mm for px_per_mm in told if px_per_mm is not None] or [first]
    return Scale(float(np.exp(np.mean(np.log(known)))), "looks", RELATIVE_SD)


def told_px_per_mm(seen: Answers) -> float | None:
    """Return the px of the photo in a mm that the ways to the tubers' middles tell."""
    body = sum(seen.parts[..., PARTS.index(part)] for part in ("body", "spent_parent"))
    sure = np.asarray(body) > LEAST_BODY
    falls = []
    for plane, known in (
        (seen.offset_mm[..., 0], sure),
        (seen.offset_mm[..., 1].T, sure.T),
    ):
        fall = (plane[:-APART_PX] - plane[APART_PX:]) / APART_PX
        falls.append(fall[known[:-APART_PX] & known[APART_PX:]])
    mm_a_px = np.concatenate(falls)
    # The median passes over pairs that lie on two tubers.
    if len(mm_a_px) < LEAST_PAIRS or np.median(mm_a_px) <= 0:
        return None
    return float(1 / (np.median(mm_a_px) * seen.step))


def _told_at(rgb: Pixels, clump: Mask, px_per_mm: float, step: float) -> float | None:
    rows, cols = window_of(clump, round(MARGIN_MM * px_per_mm))
    cut = rgb[rows, cols]
    step = min(1.0, step, (MOST_PX / (cut.shape[0] * cut.shape[1])) ** 0.5)
    corner = np.array([rows.start, cols.start], float)
    seen = see_cut_out(reduced(cut, size_at(cut.shape, step)), corner, step)
    return None if seen is None else told_px_per_mm(seen)
