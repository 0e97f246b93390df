"""Pixels per millimetre when no card tells: two points, a typed width, or a guess."""

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Scale
from eyefind.errors import PhotoError, UsageError
from eyefind.rules import Rules

POINT_SD_PX = 2.0
"""How far off a person sets a point (our choice)."""
LENGTH_SD_MM = 0.5
"""How far off a person reads a ruler (our choice)."""
LEAST_POINTS_PX = 20.0
"""Points nearer than this tell no scale."""
WIDTH_RELATIVE_SD = 0.05
"""How far a clump's width taken with a tape may be off (our choice): the tape lies
over the tubers, the photo looks from above."""


def scale_from_points(
    a_rc: NDArray[np.float64], b_rc: NDArray[np.float64], length_mm: float
) -> Scale:
    """Return the scale from two points of known distance, such as on a ruler.

    Parameters
    ----------
    a_rc, b_rc : (2,) array
        (row, col) px.
    length_mm : float
        Distance between them.

    Returns
    -------
    Scale
        Source ``"two_points"``.

    Raises
    ------
    UsageError
        If the length is not positive or the points are too near to each other.
    """
    _check_length(length_mm)
    length_px = float(np.linalg.norm(np.subtract(a_rc, b_rc)))
    if not length_px >= LEAST_POINTS_PX:
        raise UsageError(
            f"The two points lie only {length_px:.0f} px apart.",
            "Choose points as far apart as the ruler allows.",
        )
    parts = (np.sqrt(2) * POINT_SD_PX / length_px, LENGTH_SD_MM / length_mm)
    return Scale(length_px / length_mm, "two_points", float(np.linalg.norm(parts)))


def scale_from_width(clump: Mask, width_mm: float) -> Scale:
    """Return the scale from the clump's longest extent as the grower measured it.

    Parameters
    ----------
    clump : (H, W) bool array
        Mask of the clump.
    width_mm : float
        Its longest extent, tip to tip.

    Returns
    -------
    Scale
        Source ``"typed_width"``.

    Raises
    ------
    UsageError
        If the width is not positive.
    PhotoError
        If the mask is empty.
    """
    _check_length(width_mm)
    return Scale(longest_px(clump) / width_mm, "typed_width", WIDTH_RELATIVE_SD)


def guess_scale(clump: Mask, rules: Rules) -> Scale:
    """Guess the scale from the size that clumps usually have.

    Parameters
    ----------
    clump : (H, W) bool array
        Mask of the clump.
    rules : Rules
        ``typical_clump_mm`` and ``typical_clump_relative_sd`` are used.

    Returns
    -------
    Scale
        Source ``"guess"``.

    Raises
    ------
    PhotoError
        If the mask is empty.
    """
    px_per_mm = longest_px(clump) / rules.value("typical_clump_mm")
    return Scale(px_per_mm, "guess", rules.value("typical_clump_relative_sd"))


def longest_px(clump: Mask) -> float:
    """Return the clump's longest extent, px: its greatest Feret diameter.

    Parameters
    ----------
    clump : (H, W) bool array
        Mask, of one part or several.

    Returns
    -------
    float
        Distance of the two pixels' middles that lie farthest apart, plus 1.

    Raises
    ------
    PhotoError
        If the mask is empty.
    """
    rims, _ = cv2.findContours(
        clump.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE
    )
    if not rims:
        raise PhotoError(
            "No clump was made out, so nothing tells the scale.",
            "Lay the clump on a plain bench of another colour and photograph it again.",
        )
    hull = cv2.convexHull(np.concatenate(rims)).reshape(-1, 2).astype(np.float64)
    apart = np.linalg.norm(hull[:, None] - hull[None], axis=-1)
    return float(apart.max()) + 1.0


def _check_length(length_mm: float) -> None:
    if not (np.isfinite(length_mm) and length_mm > 0):
        raise UsageError(
            f"A length of {length_mm:g} mm makes no scale.",
            "Give the length in millimetres, such as 50.",
        )
