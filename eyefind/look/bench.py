"""What the bench looks like: its colours and grain, learned from the picture's rim."""

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels
from eyefind.reduce import reduced

Plane = NDArray[np.float32]

LINEAR = (np.arange(256, dtype=np.float32) / 255) ** 2.2
"""Linear light, 0 to 1, of each level of an 8-bit channel, nearly."""
LUMINANCE = np.float32([[0.2126, 0.7152, 0.0722]])
"""Brightness of linear red, green and blue (IEC 61966-2-1)."""
FINE_PX = 800_000
"""Pixels of the picture in which the outline is refined."""
LARGE_PX = 4_000_000
"""A larger photo is halved first, which is fast (see `eyefind.reduce`)."""
BORDER_SHARE = 0.04
"""Width of the border that shows the bench, as a share of the short side."""
BENCH_COLOURS = 6
"""Colours that describe a bench: wood or newsprint need several."""
LEAST_SD = np.array([0.10, 0.045, 0.05], np.float32)
"""Least standard deviation of a bench colour: log brightness, red/green, blue/green."""
MOST_SPREAD = 2.0
"""A colour's tints spread by no more than this many least deviations of their own: what
spreads further is a blend of bench and clump, which lies near to both ..."""
ALL_AROUND = 0.5
"""... unless it takes this share of the border, end to end: then the bench varies."""
GRAIN_SD = 0.4
"""Least standard deviation of the bench's grain, log of its contrast."""
DARK_NOISE = 0.01
"""Light, of 1, below which a colour is noise."""
SHADE_COST = 0.1
"""A bench colour in the shade counts as this much of its loss of brightness."""
SKY = np.array([-0.4, 0.9], np.float32) / np.float32(0.985)
"""Tint that shade may add (log red/green, log blue/green): it is lit by the sky ..."""
SKY_SHARE = 0.3
"""... by up to this much of its loss of brightness."""
SHADE_DOUBT = 0.2
"""Tints differ by this much more, relatively, per loss of brightness (log units)."""
NEAR, FAR = 2.0, 6.0
"""Distances from the bench's colours, in standard deviations: surely bench below the
first, surely not above the second."""
MIDDLE_EXCESS = 2.5
"""A border colour this many times as common in the middle is the clump's own."""
STRETCH, STRETCH_HOLDS = 0.1, 0.8
"""So is one that is commoner in the middle and lies, for the most part (the second
share), on one stretch of the border (the first): there the clump leaves the picture."""


def bench_tints(small: Pixels) -> Plane:
    """Logarithms of brightness, red over green, blue over green.

    The latter two do not change in the shade, save for the tint of the sky.

    Parameters
    ----------
    small : (h, w, 3) uint8 array
        The photo, reduced.

    Returns
    -------
    (h, w, 3) float32 array
        Natural logarithms.
    """
    linear = cv2.GaussianBlur(cv2.LUT(small, LINEAR), (0, 0), 0.7)
    logs = np.log(linear + DARK_NOISE)
    bright = np.log(cv2.transform(linear, LUMINANCE) + DARK_NOISE)
    return np.dstack([bright, logs[..., 0] - logs[..., 1], logs[..., 2] - logs[..., 1]])


def bench_grain(fine: Pixels, shape: tuple[int, int]) -> Plane:
    """Log of the fine contrast of brightness: high on soil, wood and print.

    Parameters
    ----------
    fine : (H, W, 3) uint8 array
        The photo at `FINE_PX`.
    shape : (h, w)
        Size of the answer, px.

    Returns
    -------
    (h, w) float32 array
        Natural logarithm of the contrast.
    """
    bright = np.log(LINEAR + DARK_NOISE)[cv2.cvtColor(fine, cv2.COLOR_RGB2GRAY)]
    detail = (bright - cv2.GaussianBlur(bright, (0, 0), 3.0)) ** 2
    energy = cv2.resize(detail, shape[::-1], interpolation=cv2.INTER_AREA)
    return np.asarray(0.5 * np.log(cv2.GaussianBlur(energy, (0, 0), 1.5) + 1e-4))


def bench_distance(tints: Plane, grain: Plane, card: Mask) -> Plane:
    """Measure how far each pixel is from every colour of the bench.

    Parameters
    ----------
    tints : (H, W, 3) float32 array
        As `bench_tints` gives them.
    grain : (H, W) float32 array
        As `bench_grain` gives it.
    card : (H, W) bool array
        The bench card, which is no bench.

    Returns
    -------
    (H, W) float32 array
        Distance to the nearest bench colour, lit or in shadow, in standard deviations.
    """
    border = bench_border(card.shape) & ~card
    sample = tints[border]
    cv2.setRNGSeed(0)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.01)
    _, member, _ = cv2.kmeans(
        sample / LEAST_SD, BENCH_COLOURS, None, stop, 1, cv2.KMEANS_PP_CENTERS
    )
    nearest = np.full(card.shape, np.inf, np.float32)
    for colour in range(BENCH_COLOURS):
        own = member[:, 0] == colour
        if own.sum() < 8:
            continue
        stretch = _stretch(border, own)
        most = np.inf if stretch > ALL_AROUND else MOST_SPREAD
        near = np.hypot(
            _from_colour(tints, sample[own], most),
            _from_grain(grain, grain[border][own]),
        )
        leaves = stretch <= STRETCH
        if not _is_clump_at_border(near, border, float(own.mean()), leaves, card):
            nearest = np.minimum(nearest, near)
    return np.asarray(cv2.GaussianBlur(nearest, (0, 0), 0.8))


def _from_grain(grain: Plane, own: Plane) -> Plane:
    """Distance by being smoother than the bench; rims make anything look rougher."""
    smoother = np.maximum(np.median(own) - grain, 0)
    return np.asarray(smoother / np.hypot(own.std(), GRAIN_SD))


def _from_colour(tints: Plane, own: Plane, most: float) -> Plane:
    """Distance from one bench colour; shade, and its tint, count little."""
    off = tints - np.median(own, axis=0)
    shade = np.maximum(-off[..., 0], 0)
    sky = np.clip(off[..., 1:] @ SKY, 0, SKY_SHARE * shade)
    tint = off[..., 1:] - sky[..., None] * SKY
    bright = np.maximum(off[..., 0], 0) + shade * SHADE_COST
    bright /= np.hypot(own[:, 0].std(), LEAST_SD[0])
    doubt = 1.0 + SHADE_DOUBT * shade
    far = np.linalg.norm(tint @ _whitening(own[:, 1:], LEAST_SD[1:], most), axis=2)
    return np.asarray(np.hypot(bright, far / doubt))


def _whitening(own: Plane, least_sd: Plane, most: float) -> Plane:
    """Matrix that turns differences from a colour to its standard deviations."""
    variance, axes = np.linalg.eigh(np.cov(own / least_sd, rowvar=False))
    sd = np.sqrt(1.0 + np.minimum(variance, most**2))
    return np.asarray(axes / sd / least_sd[:, None], np.float32)


def _is_clump_at_border(
    near: Plane, border: Mask, own: float, leaves: bool, card: Mask
) -> bool:
    """Whether a border colour is the clump's own: rare there, common in the middle."""
    rows, cols = near.shape
    middle = slice(rows // 4, rows - rows // 4), slice(cols // 4, cols - cols // 4)
    share = float((near[middle] < NEAR)[~card[middle]].mean())
    if share > MIDDLE_EXCESS * float((near[border] < NEAR).mean()):
        return True
    return leaves and share > own


def _stretch(border: Mask, own: NDArray[np.bool_]) -> float:
    """Shortest stretch of the border, as a share, that holds most of its own pixels."""
    rows, cols = border.shape
    row, col = (np.argwhere(border) + 0.5).T
    sides = np.stack([row, cols - col, rows - row, col])
    ways = np.stack([col, cols + row, 2 * cols + rows - col, 2 * (rows + cols) - row])
    way = np.choose(np.argmin(sides, axis=0), ways)[own] / (2 * (rows + cols))
    way = np.sort(way)
    most = int(np.ceil(STRETCH_HOLDS * len(way))) - 1
    return float((np.concatenate([way, way + 1])[most : most + len(way)] - way).min())


def bench_border(shape: tuple[int, int]) -> Mask:
    """Take the rim of the picture, where the bench shows.

    Parameters
    ----------
    shape : (h, w)
        Size of the picture, px.

    Returns
    -------
    (h, w) bool array
        True in the rim.
    """
    width = max(2, round(BORDER_SHARE * min(shape)))
    border = np.ones(shape, bool)
    border[width:-width, width:-width] = False
    return border


def shrink(rgb: Pixels, most_px: int) -> tuple[Pixels, float]:
    """Reduce a photo to at most so many pixels.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    most_px : int
        Most pixels of the answer.

    Returns
    -------
    small : (h, w, 3) uint8 array
        The photo itself if it is small enough.
    scale : float
        Its px per px of the photo.
    """
    scale = min(1.0, (most_px / (rgb.shape[0] * rgb.shape[1])) ** 0.5)
    if scale == 1.0:
        return rgb, 1.0
    rows, cols = rgb.shape[:2]
    small, left = rgb, scale
    if rows * cols > LARGE_PX and rows % 2 == cols % 2 == 0:
        small, left = reduced(rgb, (rows // 2, cols // 2)), 2 * scale
    small = cv2.resize(small, None, fx=left, fy=left, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8), scale
