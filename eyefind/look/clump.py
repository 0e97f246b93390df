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
from eyefind.look.bench import (
    FAR,
    FINE_PX,
    NEAR,
    Plane,
    bench_border,
    bench_distance,
    bench_grain,
    bench_tints,
    shrink,
)
from eyefind.look.seen import sees_clump, tissue
from eyefind.model import Answers
from eyefind.reduce import reduced, size_at

Bytes = NDArray[np.uint8]
Labels = NDArray[np.int32]

CUT_PX = 80_000
"""Pixels of the picture that the graph cut sees (its time grows faster than this)."""
BENCH_SHARE, LEAST_PARTING = 0.98, 1.2
"""The parting distance leaves this share of the border to the bench, and is no less."""
GAP_SHARE = 0.06
"""Pieces nearer to each other than this share of the picture's diagonal are one clump:
a dark crown may look like the bench and leave its tubers loose."""
BRIDGE_SHARE = 0.017
"""Gaps narrower than twice this share are filled, for a dark crown lies there."""
MOST_TIES, TIE_PX = 12, 4
"""Pieces that lie further apart are tied by lines as wide as a neck."""
SLAB_FILLS, GREY_RATIO = 0.8, 1.3
"""A thing that fills its rectangle so far, with channels within this ratio, is a card
or a label."""
HOLE_AREA = 0.004
"""A hole smaller than this share of the clump is glare or dirt on it."""
SPECK_AREA = 0.002
"""What lies beside the clump and is smaller than this share of it is dirt."""
LEAST_AREA, MOST_AREA = 0.006, 0.95
"""Share of the picture that a clump may fill."""
RIVAL_AREA = 0.35
"""Another thing of this share of the clump's area may be a second clump ..."""
RIVAL_LIKENESS = 0.6
"""... if its colours overlap the clump's by this much (Bhattacharyya, 0 to 1)."""
BENCH_LIKENESS = 0.85
"""What shares its colours with the bench by more than this is a piece of bench."""
EDGE_WEIGHT = np.array([0.25, 1.0, 1.0], np.float32)
"""What each tint counts at the outline: brightness little, for shadows lie there."""
SUM = np.ones((1, 3), np.float32)
"""Adds up three channels."""
EDGE_NOISE = 0.08
"""Step of the tints across the outline below which the rough outline is kept."""


def find_clump(
    rgb: Pixels, card_outline_px: Points | None = None, seen: Answers | None = None
) -> Mask:
    """Find the pixels that belong to the clump.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    card_outline_px : (N, 2) array, optional
        Outline of the bench card, which is never clump.
    seen : Answers, optional
        What the network says of the whole photo; without it, or where it sees no
        clump, the bench is learned from the picture's border.

    Returns
    -------
    (H, W) bool array
        The clump, one connected region without holes.

    Raises
    ------
    PhotoError
        If no clump is in view, or two of like size.
    """
    small, scale = shrink(rgb, CUT_PX)
    fine, fine_scale = shrink(rgb, FINE_PX)
    card = _card_mask(small.shape[:2], card_outline_px, scale)
    if seen is not None and sees_clump(seen):
        rough = tissue(seen, small.shape[:2]) & ~card
    else:
        rough = _cut(small, bench_grain(fine, small.shape[:2]), card)
        _must_stand_out(small, rough, card)
    pieces, bridges = _the_clump(small, rough, card)
    fine_card = _card_mask(fine.shape[:2], card_outline_px, fine_scale)
    clump = _refined(fine, _filled(pieces), bridges, fine_card)
    full = cv2.resize(clump.view(np.uint8) * np.uint8(255), rgb.shape[1::-1])
    return np.asarray(full > 127)


def _cut(small: Pixels, grain: Plane, card: Mask) -> Mask:
    """Tell clump from bench by graph cut (Rother et al. 2004, as OpenCV has it)."""
    tints = bench_tints(small)
    distance = bench_distance(tints, grain, card)
    labels = np.full(small.shape[:2], cv2.GC_PR_BGD, np.uint8)
    border = bench_border(small.shape[:2]) & ~card
    labels[distance > _parting(distance[~card], distance[border])] = cv2.GC_PR_FGD
    labels[border & (distance < NEAR)] = cv2.GC_BGD
    labels[card] = cv2.GC_BGD
    likely = labels == cv2.GC_PR_FGD
    if likely.sum() < LEAST_AREA * likely.size:
        raise _no_clump("Everything in it looks like the bench.")
    if (~likely & ~card).sum() < (1 - MOST_AREA) * likely.size:
        raise _no_clump("No bench can be told from it.")
    cv2.setRNGSeed(0)
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(
        _as_bytes(tints, distance), labels, None, *models, 2, cv2.GC_INIT_WITH_MASK
    )
    return np.asarray(((labels == cv2.GC_FGD) | (labels == cv2.GC_PR_FGD)) & ~card)


def _as_bytes(tints: Plane, distance: Plane) -> Pixels:
    """Bring the tints and the distance from the bench to what the graph cut takes."""
    planes = [np.clip(distance / FAR, 0, 1.5) * 120]
    for plane in (tints[..., 1], tints[..., 2]):
        low, high = np.percentile(plane, (1, 99))
        planes.append(np.clip((plane - low) / max(high - low, 1e-6), 0, 1) * 180)
    return np.dstack(planes).astype(np.uint8)


def _parting(distance: Plane, at_border: Plane) -> float:
    """Distance that parts bench from clump best (Otsu 1979).

    It lies above what the bench itself reaches at the border, and below `FAR`.
    """
    levels = np.uint8(np.clip(distance / FAR, 0, 1) * 255)
    best, _ = cv2.threshold(levels, 0, 255, cv2.THRESH_OTSU)
    bench = at_border[at_border < FAR]
    least = float(np.quantile(bench, BENCH_SHARE)) if len(bench) else 0.0
    return float(np.clip(best / 255 * FAR, max(least, LEAST_PARTING), FAR))


def _must_stand_out(small: Pixels, rough: Mask, card: Mask) -> None:
    """Refuse what has the bench's own colours: it is a piece of bench."""
    bench = _histogram(small, ~rough & ~card)
    if _likeness(_histogram(small, rough), bench) > BENCH_LIKENESS:
        raise _no_clump("Nothing in it stands out from the bench.")


def _the_clump(small: Pixels, rough: Mask, card: Mask) -> tuple[Mask, Mask]:
    """Pick the clump among the things that are not bench, and what joins its pieces."""
    tidy = cv2.morphologyEx(rough.astype(np.uint8), cv2.MORPH_OPEN, _disc(1))
    count, label, stats, _ = cv2.connectedComponentsWithStats(tidy)
    things = _Things(small, label, stats[:, cv2.CC_STAT_AREA])
    if count < 2:
        raise _no_clump("Nothing in it stands out from the bench.")
    group = things.grown_from(things.most_central())
    clump = np.isin(label, group)
    colours = _histogram(small, clump)
    if clump.sum() < LEAST_AREA * clump.size:
        raise _no_clump("Nothing in it stands out from the bench.")
    rest = [n for n in range(1, count) if n not in group and not things.is_foreign(n)]
    for other in rest:
        rival = np.isin(label, things.grown_from(other, rest))
        if (
            rival.sum() > RIVAL_AREA * clump.sum()
            and not _at_frame(rival)
            and _likeness(_histogram(small, rival), colours) > RIVAL_LIKENESS
        ):
            raise PhotoError(
                "Two clumps seem to lie in this picture.",
                "Photograph one clump at a time, with nothing else like it in view.",
            )
    return _bridged(label, group)


class _Things:
    """What lies on the bench, piece by piece."""

    def __init__(self, small: Pixels, label: Labels, areas: NDArray[np.int32]) -> None:
        self.small, self.label, self.areas = small, label, areas
        self.gap = max(2.0, GAP_SHARE * float(np.hypot(*label.shape)))

    def most_central(self) -> int:
        """Return the number of the largest thing, the more central ones preferred."""
        weight = self.areas[1:] * _centrality(self.label, len(self.areas))
        foreign = [self.is_foreign(n) for n in range(1, len(self.areas))]
        return 1 + int(np.argmax(np.where(foreign, 0.01, 1.0) * weight))

    def is_foreign(self, number: int) -> bool:
        """Whether a thing is a card or label: a plain rectangle without colour."""
        own = self.label == number
        places = np.argwhere(own)[:, ::-1].astype(np.float32)
        _, (width, height), _ = cv2.minAreaRect(places)
        full = self.areas[number] > SLAB_FILLS * (width + 1) * (height + 1)
        tints = self.small[own].astype(float) + 4
        grey = np.median(tints.max(1) / tints.min(1)) < GREY_RATIO
        return bool(grey and full and self.areas[number] > 30)

    def grown_from(self, first: int, among: list[int] | None = None) -> list[int]:
        """List every thing close to the hull of `first` or to that of all so found."""
        group = np.uint8(self.label == first)
        found, least = {first}, SPECK_AREA * self.areas[first]
        for _ in range(8):
            near = self.label[cv2.dilate(_hull(group), _disc(self.gap)) > 0]
            new = {int(n) for n in np.unique(near) if n} - found
            new = {n for n in new if among is None or n in among}
            new = {n for n in new if self.areas[n] > least and not self.is_foreign(n)}
            if not new:
                break
            found |= new
            group |= np.isin(self.label, list(new)).astype(np.uint8)
        return sorted(found)


def _bridged(label: Labels, group: list[int]) -> tuple[Mask, Mask]:
    """Find the pieces of one clump and the narrow gaps that part them."""
    pieces = np.isin(label, group)
    reach = max(1.0, BRIDGE_SHARE * float(np.hypot(*label.shape)))
    closed = cv2.morphologyEx(pieces.astype(np.uint8), cv2.MORPH_CLOSE, _disc(reach))
    _, gap, stats, _ = cv2.connectedComponentsWithStats(
        np.uint8((closed > 0) & ~pieces)
    )
    bridges = np.zeros_like(pieces)
    for number in range(1, len(stats)):
        bridge = gap == number
        rim = cv2.dilate(bridge.astype(np.uint8), _disc(1)) > 0
        if len(np.unique(label[rim & pieces])) > 1:
            bridges |= bridge
    return pieces, bridges | _ties(pieces | bridges)


def _ties(pieces: Mask) -> Mask:
    """Draw the shortest line from the largest piece to each other one in turn."""
    tied, ties = pieces.astype(np.uint8), np.zeros(pieces.shape, np.uint8)
    for _ in range(MOST_TIES):
        main = _largest(tied)
        if main.sum() == tied.sum():
            break
        away = cv2.distanceTransform((~main).astype(np.uint8), cv2.DIST_L2, 5)
        start = np.argwhere((tied > 0) & ~main)
        start = start[np.argmin(away[tuple(start.T)])]
        ends = np.argwhere(main)
        end = ends[np.argmin(np.sum((ends - start) ** 2, axis=1))]
        for picture in (tied, ties):
            cv2.line(picture, start[::-1].tolist(), end[::-1].tolist(), 1, TIE_PX)
    return ties > 0


def _hull(group: Bytes) -> Bytes:
    places = np.argwhere(group)[:, ::-1].astype(np.int32)
    hull = np.zeros_like(group)
    cv2.fillConvexPoly(hull, cv2.convexHull(places), 1)
    return hull


def _at_frame(thing: Mask) -> bool:
    edge = np.concatenate([thing[0], thing[-1], thing[:, 0], thing[:, -1]])
    return bool(edge.mean() > 0.02)


def _centrality(label: Labels, count: int) -> NDArray[np.float64]:
    """How central each thing lies, 0.3 at the frame to 1 in the middle."""
    rows, cols = label.shape
    centres = np.array(
        [np.argwhere(label == number).mean(0) for number in range(1, count)]
    )
    off = (centres / (rows - 1, cols - 1) - 0.5) * 2
    return np.asarray(1.0 - 0.7 * np.clip(np.hypot(*off.T), 0, 1))


def _refined(small: Pixels, coarse: Mask, bridges: Mask, card: Mask) -> Mask:
    """Move the outline to where the colour changes from clump to bench.

    Near the rough outline each pixel is placed between the clump's and the bench's own
    colours hereabouts: what is nearer to the clump's is clump.
    """
    fine = bench_tints(small) * EDGE_WEIGHT
    shape = fine.shape[1::-1]
    colour = cv2.resize(fine, coarse.shape[::-1], interpolation=cv2.INTER_AREA)
    inside = _mean_colour(colour, _eroded(coarse), shape)
    outside = _mean_colour(colour, _eroded(~coarse), shape)
    step = inside - outside
    power = cv2.transform(step * step, SUM)
    place = cv2.transform((fine - outside) * step, SUM) / (power + 1e-6)
    prior = cv2.resize(cv2.GaussianBlur(coarse.astype(np.float32), (0, 0), 1.0), shape)
    trust = power / (power + EDGE_NOISE**2)
    alpha = trust * np.clip(place, 0, 1) + (1 - trust) * prior
    alpha = cv2.GaussianBlur(alpha, (0, 0), 1.0)
    reach = fine.shape[0] / coarse.shape[0] * 2.0
    band = np.uint8(prior > 0.5)
    sure = cv2.erode(band, _disc(reach)) > 0
    near = cv2.dilate(band, _disc(reach)) > 0
    clump = sure | (near & (alpha > 0.5))
    clump &= ~card
    clump |= cv2.resize(bridges.astype(np.uint8), shape) > 0
    tidy = cv2.morphologyEx(clump.astype(np.uint8), cv2.MORPH_OPEN, _disc(1))
    return _filled(_largest(tidy))


def _mean_colour(colour: Plane, where: Mask, shape: tuple[int, int]) -> Plane:
    """Average colour of the pixels `where` hereabouts, at the size `shape`."""
    weight = where.astype(np.float32)[..., None]
    both = np.concatenate([colour * weight, weight], axis=2)
    near = cv2.GaussianBlur(both, (0, 0), 3.0)
    # So wide a blur needs no fine picture.
    few = cv2.GaussianBlur(reduced(both, size_at(both.shape, 0.2)), (0, 0), 5.0)
    wide = cv2.resize(few, both.shape[1::-1])
    both = near + 1e-3 * wide + 1e-9 * both.mean((0, 1))
    mean = both[..., :3] / np.maximum(both[..., 3:], 1e-12)
    return np.asarray(cv2.resize(mean, shape), np.float32)


def _card_mask(shape: tuple[int, int], outline: Points | None, scale: float) -> Mask:
    """Area of the card, a little enlarged."""
    card = np.zeros(shape, np.uint8)
    if outline is not None and len(outline):
        corners = np.round(outline[:, ::-1] * scale).astype(np.int32)
        cv2.fillPoly(card, [corners], 1)
        card = cv2.dilate(card, _disc(max(2, 0.01 * min(shape))))
    return card > 0


def _histogram(small: Pixels, where: Mask) -> NDArray[np.float32]:
    lab = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    bounds = [0, 256, 96, 176, 96, 176]
    counts = cv2.calcHist([lab], [0, 1, 2], where.astype(np.uint8), [12] * 3, bounds)
    return np.asarray(counts / max(counts.sum(), 1.0), np.float32)


def _likeness(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    """Bhattacharyya coefficient, 0 for nothing in common to 1 for the same."""
    return float(np.sqrt(one * other).sum())


def _filled(mask: Mask | Bytes) -> Mask:
    """Fill small holes; a gap between two tubers stays open."""
    solid = np.asarray(mask, np.uint8)
    _, label, stats, _ = cv2.connectedComponentsWithStats(1 - solid, connectivity=4)
    small = stats[:, cv2.CC_STAT_AREA] < HOLE_AREA * solid.sum()
    return np.asarray((solid > 0) | small[label])


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
