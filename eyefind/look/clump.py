"""Find the clump: which pixels belong to it, on whatever bench it lies.

The bench is learned from the picture's border (a clump lies inside the frame), the
clump is what differs from it, and a graph cut settles the outline. See
docs/how-it-decides.md.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels, Points
from eyefind.errors import PhotoError

Plane = NDArray[np.float32]
Bytes = NDArray[np.uint8]

CUT_PX = 80_000
"""Pixels of the picture that the graph cut sees (its time grows faster than this)."""
FINE_PX = 800_000
"""Pixels of the picture in which the outline is refined."""
BORDER_SHARE = 0.04
"""Width of the border that shows the bench, as a share of the short side."""
BENCH_COLOURS = 6
"""Colours that describe a bench: wood or newsprint need several."""
SHADE = (1.0, 0.7, 0.45)
"""A bench colour also counts as bench when this much of its light is left."""
NEAR, FAR = 2.0, 6.0
"""Distances from the bench's colours, in standard deviations: surely bench below the
first, surely not above the second."""
MIDDLE_EXCESS = 2.5
"""A border colour this many times as common in the middle is the clump's own."""
COLOUR_NOISE = 3.5
"""Least standard deviation of one bench colour, CIELAB units."""
SLACK_SHARE = 0.004
"""Radius of gaps closed and specks opened, as a share of the picture's diagonal."""
LEAST_AREA, MOST_AREA = 0.006, 0.95
"""Share of the picture that a clump may fill."""
RIVAL_AREA = 0.35
"""A second thing of at least this share of the clump's area may be a second clump ..."""
RIVAL_LIKENESS = 0.6
"""... if its colours overlap the clump's by this much (Bhattacharyya, 0 to 1)."""
BENCH_LIKENESS = 0.85
"""What shares its colours with the bench by more than this is a piece of bench."""
EDGE_NOISE = 12.0
"""Colour step across the outline, of 255, below which the rough outline is kept."""


def find_clump(rgb: Pixels, card_outline_px: Points | None = None) -> Mask:
    """Find the pixels that belong to the clump.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    card_outline_px : (N, 2) array, optional
        Outline of the bench card, which is never clump.

    Returns
    -------
    (H, W) bool array
        The clump, one connected region without holes.

    Raises
    ------
    PhotoError
        If no clump is in view, or two of like size.
    """
    small, scale = _shrink(rgb, CUT_PX)
    card = _card_mask(small.shape[:2], card_outline_px, scale)
    rough = _cut(small, card)
    coarse = _the_clump(small, rough, card)
    return _refine(rgb, coarse, card_outline_px)


def _cut(small: Pixels, card: Mask) -> Mask:
    """Tell clump from bench by graph cut (Rother et al. 2004, as OpenCV has it)."""
    distance = bench_distance(small, card)
    labels = np.full(small.shape[:2], cv2.GC_PR_BGD, np.uint8)
    labels[distance > _parting(distance[~card])] = cv2.GC_PR_FGD
    labels[_border(small.shape[:2]) & (distance < NEAR)] = cv2.GC_BGD
    labels[card] = cv2.GC_BGD
    likely = labels == cv2.GC_PR_FGD
    if likely.sum() < LEAST_AREA * likely.size:
        raise _no_clump("Everything in it looks like the bench.")
    if (~likely & ~card).sum() < (1 - MOST_AREA) * likely.size:
        raise _no_clump("No bench can be told from it.")
    cv2.setRNGSeed(0)
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(
        cv2.cvtColor(small, cv2.COLOR_RGB2LAB),
        labels,
        None,
        *models,
        2,
        cv2.GC_INIT_WITH_MASK,
    )
    return np.asarray(((labels == cv2.GC_FGD) | (labels == cv2.GC_PR_FGD)) & ~card)


def _parting(distance: Plane) -> float:
    """Distance that parts bench from clump best (Otsu 1979), between the sure ones."""
    levels = np.uint8(np.clip(distance / FAR, 0, 1) * 255)
    best, _ = cv2.threshold(levels, 0, 255, cv2.THRESH_OTSU)
    return max(NEAR, best / 255 * FAR)


def bench_distance(small: Pixels, card: Mask) -> Plane:
    """Measure how far each pixel is from every colour of the bench.

    Parameters
    ----------
    small : (H, W, 3) uint8 array
        The photo, reduced.
    card : (H, W) bool array
        The bench card, which is no bench.

    Returns
    -------
    (H, W) float32 array
        Mahalanobis distance in CIELAB to the nearest bench colour, lit or in shadow.
    """
    linear = (small.astype(np.float32) / 255.0) ** 2.2
    lab = _lab_of_linear(linear)
    border = _border(small.shape[:2]) & ~card
    cv2.setRNGSeed(0)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    sample = lab[border]
    _, member, _ = cv2.kmeans(
        sample, BENCH_COLOURS, None, stop, 1, cv2.KMEANS_PP_CENTERS
    )
    member = member[:, 0]
    nearest = np.full(small.shape[:2], np.inf, np.float32)
    for colour in range(BENCH_COLOURS):
        own = member == colour
        if own.sum() < 8:
            continue
        spread = np.cov(sample[own], rowvar=False) + COLOUR_NOISE**2 * np.eye(3)
        near = np.full(small.shape[:2], np.inf, np.float32)
        for shade in SHADE:
            mean = _lab_of_linear(linear[border][own].mean(0)[None, None] * shade)
            near = np.minimum(near, _mahalanobis(lab, mean[0, 0], spread))
        if not _is_clump_at_border(near, border, card):
            nearest = np.minimum(nearest, near)
    return nearest


def _is_clump_at_border(near: Plane, border: Mask, card: Mask) -> bool:
    """Whether a border colour is the clump's own: rare there, common in the middle."""
    rows, cols = near.shape
    middle = slice(rows // 4, rows - rows // 4), slice(cols // 4, cols - cols // 4)
    share = float((near[middle] < NEAR)[~card[middle]].mean())
    return share > MIDDLE_EXCESS * float((near[border] < NEAR).mean())


def _the_clump(small: Pixels, rough: Mask, card: Mask) -> Mask:
    """Pick the clump among the things that are not bench."""
    slack = max(1, round(SLACK_SHARE * np.hypot(*rough.shape)))
    tidy = cv2.morphologyEx(rough.astype(np.uint8), cv2.MORPH_OPEN, _disc(1))
    joined = cv2.morphologyEx(tidy, cv2.MORPH_CLOSE, _disc(slack))
    count, label, stats, _ = cv2.connectedComponentsWithStats(joined)
    areas = stats[1:, cv2.CC_STAT_AREA].astype(float)
    if count < 2 or areas.max() < LEAST_AREA * rough.size:
        raise _no_clump("Nothing in it stands out from the bench.")
    bench = _histogram(small, ~rough & ~card)
    order = np.argsort(-areas * _centrality(label, count))
    clump = label == order[0] + 1
    colours = _histogram(small, clump & rough)
    if _likeness(colours, bench) > BENCH_LIKENESS:
        raise _no_clump("Nothing in it stands out from the bench.")
    for other in order[1:]:
        if areas[other] < RIVAL_AREA * areas[order[0]]:
            continue
        if _is_rival(small, label == other + 1, colours):
            raise PhotoError(
                "Two clumps seem to lie in this picture.",
                "Photograph one clump at a time, with nothing else like it in view.",
            )
    return _filled(clump)


def _centrality(label: NDArray[np.int32], count: int) -> NDArray[np.float64]:
    """How central each thing lies, 0.3 at the frame to 1 in the middle."""
    rows, cols = label.shape
    centres = np.array(
        [np.argwhere(label == number).mean(0) for number in range(1, count)]
    )
    off = (centres / (rows - 1, cols - 1) - 0.5) * 2
    return np.asarray(1.0 - 0.7 * np.clip(np.hypot(*off.T), 0, 1))


def _is_rival(small: Pixels, thing: Mask, colours: NDArray[np.float32]) -> bool:
    """Whether another thing passes for a clump: same colours, inside the frame."""
    at_frame = np.concatenate([thing[0], thing[-1], thing[:, 0], thing[:, -1]])
    if at_frame.mean() > 0.02:
        return False
    return _likeness(_histogram(small, thing), colours) > RIVAL_LIKENESS


def _refine(rgb: Pixels, coarse: Mask, card_outline_px: Points | None) -> Mask:
    """Move the outline to where the colour changes from clump to bench.

    Near the rough outline each pixel is placed between the clump's and the bench's own
    colours hereabouts: what is nearer to the clump's is clump.
    """
    fine, scale = _shrink(rgb, FINE_PX)
    shape = fine.shape[1::-1]
    colour = cv2.resize(fine, coarse.shape[::-1], interpolation=cv2.INTER_AREA)
    inside = _mean_colour(colour, _eroded(coarse), shape)
    outside = _mean_colour(colour, _eroded(~coarse), shape)
    step = inside - outside
    power = np.einsum("ijk,ijk->ij", step, step)
    place = np.einsum("ijk,ijk->ij", fine - outside, step) / (power + 1.0)
    prior = cv2.resize(
        cv2.GaussianBlur(coarse.astype(np.float32), (0, 0), 1.0), shape
    )
    trust = power / (power + EDGE_NOISE**2)
    alpha = trust * np.clip(place, 0, 1) + (1 - trust) * prior
    alpha = cv2.GaussianBlur(alpha, (0, 0), 1.0)
    reach = fine.shape[0] / coarse.shape[0] * 2.0
    band = np.uint8(prior > 0.5)
    sure = cv2.erode(band, _disc(reach)) > 0
    near = cv2.dilate(band, _disc(reach)) > 0
    clump = sure | (near & (alpha > 0.5))
    clump &= ~_card_mask(fine.shape[:2], card_outline_px, scale)
    tidy = cv2.morphologyEx(clump.astype(np.uint8), cv2.MORPH_OPEN, _disc(1))
    whole = _filled(_largest(tidy)).astype(np.uint8) * 255
    full = cv2.resize(whole, rgb.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(full > 127)


def _mean_colour(colour: Pixels, where: Mask, shape: tuple[int, int]) -> Plane:
    """Average colour of the pixels `where` hereabouts, at the size `shape`."""
    weight = where.astype(np.float32)[..., None]
    both = np.concatenate([colour * weight, weight], axis=2)
    near = cv2.GaussianBlur(both, (0, 0), 3.0)
    wide = cv2.GaussianBlur(both, (0, 0), 25.0)
    both = near + 1e-3 * wide + 1e-9 * both.mean((0, 1))
    mean = both[..., :3] / np.maximum(both[..., 3:], 1e-12)
    return np.asarray(cv2.resize(mean, shape), np.float32)


def _lab_of_linear(linear: Plane) -> Plane:
    srgb = np.clip(linear, 0, 1) ** (1 / 2.2)
    return np.asarray(cv2.cvtColor(srgb.astype(np.float32), cv2.COLOR_RGB2LAB))


def _mahalanobis(lab: Plane, mean: Plane, spread: NDArray[np.float64]) -> Plane:
    whiten = np.linalg.cholesky(np.linalg.inv(spread)).astype(np.float32)
    return np.asarray(np.linalg.norm((lab - mean) @ whiten, axis=2), np.float32)


def _border(shape: tuple[int, int]) -> Mask:
    width = max(2, round(BORDER_SHARE * min(shape)))
    border = np.ones(shape, bool)
    border[width:-width, width:-width] = False
    return border


def _card_mask(shape: tuple[int, int], outline: Points | None, scale: float) -> Mask:
    """Area of the card, a little enlarged."""
    card = np.zeros(shape, np.uint8)
    if outline is not None and len(outline):
        corners = np.round(outline[:, ::-1] * scale).astype(np.int32)
        cv2.fillPoly(card, [corners], 1)
        card = cv2.dilate(card, _disc(max(2, 0.01 * min(shape))))
    return card > 0


def _shrink(rgb: Pixels, most_px: int) -> tuple[Pixels, float]:
    scale = min(1.0, (most_px / (rgb.shape[0] * rgb.shape[1])) ** 0.5)
    if scale == 1.0:
        return rgb, 1.0
    small = cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8), scale


def _histogram(small: Pixels, where: Mask) -> NDArray[np.float32]:
    lab = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    bounds = [0, 256, 96, 176, 96, 176]
    counts = cv2.calcHist([lab], [0, 1, 2], where.astype(np.uint8), [12] * 3, bounds)
    return np.asarray(counts / max(counts.sum(), 1.0), np.float32)


def _likeness(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    """Bhattacharyya coefficient, 0 for nothing in common to 1 for the same."""
    return float(np.sqrt(one * other).sum())


def _filled(mask: Mask | Bytes) -> Mask:
    outlines, _ = cv2.findContours(
        np.asarray(mask, np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    whole = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(whole, outlines, -1, 1, cv2.FILLED)
    return whole > 0


def _largest(mask: Bytes) -> Mask:
    _, label, stats, _ = cv2.connectedComponentsWithStats(mask)
    return np.asarray(label == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA])))


def _eroded(mask: Mask) -> Mask:
    return cv2.erode(mask.astype(np.uint8), _disc(1)) > 0


def _disc(radius_px: float) -> Bytes:
    size = 2 * max(1, round(radius_px)) + 1
    return np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8
    )


def _no_clump(why: str) -> PhotoError:
    return PhotoError(
        f"No clump can be made out in this picture. {why}",
        "Lay one clump in the middle of a plain bench of another colour, light it "
        "with a lamp, and photograph it again.",
    )
