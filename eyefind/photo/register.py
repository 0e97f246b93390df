"""Laying a further frame of a lamp set over the main one."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels, Points
from eyefind.photo.card import Card
from eyefind.reduce import reduced, reduced_mask, size_at, window_of

Floats = NDArray[np.float64]
Structure = NDArray[np.float32]

WORK_PX = 1000
"""Long side at which frames are compared; a part of its px is below 1 px of 12 MP."""
FINE_PX, WIDE_PX = 1.5, 12.0
"""Sigmas of the smoothing before the gradient, and of the evening-out after it."""
DARK = 8.0
"""Added to sRGB values before their logarithm: below it is noise."""
LIGHT_WEIGHT = 0.15
"""Of edges of lightness beside those of hue, which do not change with the lamp."""
MOTIONS = (cv2.MOTION_EUCLIDEAN, cv2.MOTION_HOMOGRAPHY)
"""A phone that was nudged turns and shifts; one in the hand also tilts."""
GOOD_PX = 0.5
"""Residual at the working size at which the simpler motion will do."""
ECC_STEPS, ECC_SETTLED = 60, 1e-4
ECC_SMOOTHING = 5
ECC_REACH_PX = 7
"""Bench around the clump that is compared with it."""
TILE_PX, TILE_STEP_PX = 96, 48
"""Tiles, at the working size, that tell how well the frames lie on each other."""
LEAST_RESPONSE = 0.08
"""Peak of a tile's phase correlation from which on its shift counts."""
LEAST_COVERED = 0.5
"""Share of a tile that the clump must fill."""


@dataclass(frozen=True, eq=False)
class Registered:
    """How a frame lies on the main one.

    Attributes
    ----------
    to_main : (3, 3) float64 array
        Homography from its pixels (x, y) to the main frame's (x, y).
    residual_px : float
        What is still off on the clump, px of the main frame: three quarters of its
        places are off by less.
    likeness : float
        Correlation of the two structures on the clump, -1 to 1.
    """

    to_main: Floats
    residual_px: float
    likeness: float


def register(
    main: Pixels,
    frame: Pixels,
    clump: Mask,
    cards: tuple[Card | None, Card | None] = (None, None),
) -> Registered:
    """Find how a frame lies on the main one.

    The bench card in both, else phase correlation, gives the start; then the clump's
    own structure is laid on itself by maximising the enhanced correlation coefficient
    (Evangelidis & Psarakis, IEEE Trans. PAMI 30:1858-1865, 2008). Structure is the
    strength of edges against their surroundings: unlike the shading itself it hardly
    changes when the lamp moves.

    Parameters
    ----------
    main, frame : (H, W, 3) uint8 arrays
        The frames, sRGB, of one size.
    clump : (H, W) bool array
        Mask of the clump in the main frame.
    cards : (Card or None, Card or None)
        The bench card in each.

    Returns
    -------
    Registered
        The homography and how well it fits.
    """
    factor = min(1.0, WORK_PX / max(clump.shape))
    size = size_at(clump.shape, factor)
    to_work = _to_work(size[1] / clump.shape[1], size[0] / clump.shape[0])
    fixed, moving = structure(main, size), structure(frame, size)
    mask = reduced_mask(clump, size)
    start = _by_cards(cards, to_work)
    if start is None:
        start = _by_phase(fixed, moving)
    total, likeness, residual = start, -1.0, float("inf")
    for motion in MOTIONS:
        step, like = _by_ecc(fixed, _warped(moving, total), mask, motion)
        off = _residual(fixed, _warped(moving, step @ total), mask)
        if off < residual:
            total, likeness, residual = step @ total, like, off
        if residual <= GOOD_PX:
            break
    to_main = np.linalg.inv(to_work) @ total @ to_work
    return Registered(to_main / to_main[2, 2], residual / factor, likeness)


def structure(rgb: Pixels, size: tuple[int, int]) -> Structure:
    """Return the strength of edges against their surroundings, (rows, cols) float32.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        Frame.
    size : (rows, cols)
        Working size.
    """
    level = np.log(reduced(rgb, size).astype(np.float32) + DARK)
    level = cv2.GaussianBlur(level, (0, 0), FINE_PX)
    red, green, blue = cv2.split(level)
    edges = LIGHT_WEIGHT * _edges(green)
    edges += _edges(red - green) + _edges(blue - green)
    around = cv2.GaussianBlur(edges, (0, 0), WIDE_PX)
    return np.asarray(edges / (around + 0.005), dtype=np.float32)


def _edges(level: Structure) -> Structure:
    right = cv2.Sobel(level, cv2.CV_32F, 1, 0, scale=1 / 8)
    down = cv2.Sobel(level, cv2.CV_32F, 0, 1, scale=1 / 8)
    return np.asarray(cv2.magnitude(right, down), dtype=np.float32)


def warp(frame: Pixels, to_main: Floats) -> Pixels:
    """Lay a frame over the main one; beyond its edge its outermost pixels go on."""
    size = frame.shape[1::-1]
    done = cv2.warpPerspective(
        frame, to_main, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(done, dtype=np.uint8)


def corners_of(to_main: Floats, shape: tuple[int, ...]) -> Points:
    """Return where a frame's corner pixels lie in the main frame, (4, 2) (row, col).

    Top-left, top-right, bottom-right, bottom-left.
    """
    corners = _corner_pixels(shape)[None]
    return np.asarray(cv2.perspectiveTransform(corners, to_main)[0][:, ::-1])


def from_corners(corners_px: Points, shape: tuple[int, ...]) -> Floats:
    """Return the homography of `corners_of` from what it returned."""
    start = _corner_pixels(shape).astype(np.float32)
    end = np.ascontiguousarray(corners_px[:, ::-1], dtype=np.float32)
    return np.asarray(cv2.getPerspectiveTransform(start, end), dtype=np.float64)


def _corner_pixels(shape: tuple[int, ...]) -> Floats:
    bottom, right = shape[0] - 1, shape[1] - 1
    return np.array([(0, 0), (right, 0), (right, bottom), (0, bottom)], np.float64)


def _to_work(across: float, down: float) -> Floats:
    """Return the homography to the working size; whole numbers are pixels' middles."""
    return np.array(
        [
            (across, 0, (across - 1) / 2),
            (0, down, (down - 1) / 2),
            (0, 0, 1),
        ]
    )


def _by_cards(cards: tuple[Card | None, Card | None], to_work: Floats) -> Floats | None:
    """Lay card on card; its perspective would not hold as far off as the clump."""
    if cards[0] is None or cards[1] is None:
        return None
    fixed, moving = (
        cv2.perspectiveTransform(card.outline_px[None, :, ::-1], to_work)
        for card in cards
        if card is not None
    )
    likeness, _ = cv2.estimateAffinePartial2D(moving, fixed)
    return np.vstack([likeness, (0, 0, 1)])


def _by_phase(fixed: Structure, moving: Structure) -> Floats:
    window = cv2.createHanningWindow(fixed.shape[::-1], cv2.CV_32F)
    (right, down), _ = cv2.phaseCorrelate(moving, fixed, window)
    return np.array([(1, 0, right), (0, 1, down), (0, 0, 1)], np.float64)


def _by_ecc(
    fixed: Structure, moved: Structure, mask: Mask, motion: int
) -> tuple[Floats, float]:
    """Return the correction, (3, 3), and the correlation that it reaches."""
    rows = 3 if motion == cv2.MOTION_HOMOGRAPHY else 2
    change = np.eye(rows, 3, dtype=np.float32)
    limits = cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT
    stop = (limits, ECC_STEPS, ECC_SETTLED)
    around = np.ones((2 * ECC_REACH_PX + 1,) * 2, np.uint8)
    wide = cv2.dilate(mask.view(np.uint8), around)
    # Beyond the mask nothing counts, but every pixel takes its time.
    box = window_of(mask, ECC_REACH_PX + ECC_SMOOTHING)
    still, near, inside = (np.ascontiguousarray(a[box]) for a in (fixed, moved, wide))
    try:
        likeness, found = cv2.findTransformECC(
            still, near, change, motion, stop, inside, ECC_SMOOTHING
        )
    except cv2.error:  # it did not settle: the frames have too little in common
        return np.eye(3), -1.0
    back = np.linalg.inv(np.vstack([np.asarray(found, np.float64), np.eye(3)[rows:]]))
    to_box = np.eye(3)
    to_box[:2, 2] = -box[1].start, -box[0].start
    return np.asarray(np.linalg.inv(to_box) @ back @ to_box), float(likeness)


def _warped(moving: Structure, total: Floats) -> Structure:
    size = moving.shape[::-1]
    done = cv2.warpPerspective(moving, total, size, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(done, dtype=np.float32)


def _residual(fixed: Structure, moved: Structure, mask: Mask) -> float:
    """Return the upper quartile of the tiles' shifts, px.

    A clump too small or too plain for tiles is taken as one.
    """
    window = cv2.createHanningWindow((TILE_PX, TILE_PX), cv2.CV_32F)
    shifts = []
    for row in range(0, mask.shape[0] - TILE_PX + 1, TILE_STEP_PX):
        for col in range(0, mask.shape[1] - TILE_PX + 1, TILE_STEP_PX):
            tile = np.s_[row : row + TILE_PX, col : col + TILE_PX]
            if mask[tile].mean() < LEAST_COVERED:
                continue
            pair = np.ascontiguousarray(fixed[tile]), np.ascontiguousarray(moved[tile])
            shift, response = cv2.phaseCorrelate(*pair, window)
            if response > LEAST_RESPONSE:
                shifts.append(float(np.linalg.norm(shift)))
    if not shifts:
        return float(np.hypot(*_by_phase(fixed * mask, moved * mask)[:2, 2]))
    return float(np.quantile(shifts, 0.75))
