"""Slopes of the clump's surface from two to four frames with the lamp moved."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels
from eyefind.photo import find_card
from eyefind.photo.matching import matched_grey, matching_gains
from eyefind.reduce import reduced, reduced_mask, size_at, window_of
from eyefind.relief.lamps import Lamps, find_lamps
from eyefind.relief.round_shape import round_normals
from eyefind.relief.solve import solve_slope

PX_PER_MM = 6.0
"""The finest scale of the relief: an eye of 1 mm still has 6 px."""
MARGIN_PX = 8
LAMP_PX = 160
"""Long side at which the lamps are looked for: the tubers' roundness is enough."""
CLIPPED = 250
"""A channel that reaches this says no more how bright a pixel was."""
DARKEST_LEVEL = 15
"""sRGB value over which the card tells how a frame lights it."""
LEAST_LEVEL_PX = 100
LEAST_CLUMP_PX = 400
"""Fewer pixels than this show no clump."""


@dataclass(frozen=True, eq=False)
class Relief:
    """The lie of a clump's surface, on a grid around the clump.

    Attributes
    ----------
    slope : (h, w, 2) float32 array
        Rise towards the camera along (row, col), px a px; 0 where unknown. With two
        frames only its part along the line between the lamps is known, the other is 0.
    valid : (h, w) bool array
        Where the slope is known.
    lamps : (n, 3) float64 array
        Unit vectors (row, col, up) towards the lamp of each frame, estimated.
    px_per_mm : float
        Px of the grid in one mm; `PX_PER_MM` at most.
    corner_rc : (row, col)
        Corner of the grid in the photo, px.
    step : float
        Px of the grid in one px of the photo.
    """

    slope: NDArray[np.float32]
    valid: Mask
    lamps: NDArray[np.float64]
    px_per_mm: float
    corner_rc: tuple[int, int] = (0, 0)
    step: float = 1.0


def make_relief(frames: Sequence[Pixels], clump: Mask, px_per_mm: float) -> Relief:
    """Make the relief from frames that differ by their lamp alone.

    Exposure and white balance are matched, the lamps found from the clump's own
    shading and from the bench card, which lies flat, and each pixel's normal solved for
    by photometric stereo (Woodham, Optical Engineering 19:139-144, 1980) from the
    frames that show neither glare nor a cast shadow there.

    Parameters
    ----------
    frames : sequence of (H, W, 3) uint8 arrays
        Two or more registered sRGB frames, the main frame first.
    clump : (H, W) bool array
        Mask of the clump.
    px_per_mm : float
        Scale of the frames.

    Returns
    -------
    Relief
        Its slopes are unknown everywhere when the clump is not made out.

    Raises
    ------
    ValueError
        If there are fewer than two frames or their sizes differ.
    """
    if len(frames) < 2 or any(frame.shape != frames[0].shape for frame in frames):
        raise ValueError("a relief takes two or more frames of one size")
    step = min(1.0, PX_PER_MM / px_per_mm)
    box = window_of(clump, MARGIN_PX)
    corner_rc = box[0].start, box[1].start
    size = size_at(clump[box].shape, step)
    slope, known = np.zeros((*size, 2), np.float32), np.zeros(size, bool)
    if np.count_nonzero(clump) < LEAST_CLUMP_PX:
        nowhere = np.zeros((len(frames), 3))
        return Relief(slope, known, nowhere, px_per_mm * step, corner_rc, step)
    small = [reduced(frame[box], size) for frame in frames]
    mask = reduced_mask(clump[box], size)
    gains = matching_gains(small, mask)
    lamps = _lamps(small, mask, gains, _level_light(frames, clump, gains))
    inside = [frame[mask] for frame in small]
    slope[mask], known[mask] = solve_slope(
        matched_grey(inside, gains), _unclipped(inside), lamps
    )
    slope[~known] = 0
    return Relief(slope, known, lamps.towards, px_per_mm * step, corner_rc, step)


def _unclipped(pixels: Sequence[NDArray[np.uint8]]) -> NDArray[np.bool_]:
    """Tell where each frame, (N, 3), is not clipped in any channel: (n, N)."""
    return np.stack([(one < CLIPPED).all(axis=1) for one in pixels])


def _lamps(
    frames: Sequence[Pixels],
    mask: Mask,
    gains: NDArray[np.float64],
    level: NDArray[np.float64] | None,
) -> Lamps:
    size = size_at(mask.shape, min(1.0, LAMP_PX / max(mask.shape)))
    outline = reduced_mask(mask, size)
    seen = matched_grey([reduced(frame, size)[outline] for frame in frames], gains)
    return find_lamps(seen.astype(float), round_normals(outline)[outline], level)


def _level_light(
    frames: Sequence[Pixels], clump: Mask, gains: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Return each frame's share of the light on the bench card; None if unseen."""
    card = find_card(frames[0])
    if card is None:
        return None
    corners_xy = card.outline_px[:, ::-1].round().astype(np.int32)
    left, top, width, height = cv2.boundingRect(corners_xy)
    box = np.s_[max(0, top) : top + height, max(0, left) : left + width]
    card_here = np.zeros(clump[box].shape, np.uint8)
    cv2.fillConvexPoly(card_here, corners_xy - (box[1].start, box[0].start), 1)
    level = (card_here > 0) & ~clump[box]
    flat = [frame[box][level] for frame in frames]
    dark = np.min([one.min(axis=1) for one in flat], axis=0)
    bright = np.max([one.max(axis=1) for one in flat], axis=0)
    tells = (dark > DARKEST_LEVEL) & (bright < CLIPPED)
    if np.count_nonzero(tells) < LEAST_LEVEL_PX:
        return None
    light = matched_grey([one[tells] for one in flat], gains)
    return np.asarray(np.median(light / light.sum(axis=0), axis=1), dtype=np.float64)
