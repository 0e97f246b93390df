"""What the relief is good for: shading by a lamp of one's choice, and bumps."""

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Points

if TYPE_CHECKING:
    from eyefind.relief.relief import Relief

SMOOTHING = 0.25
"""Sigma of the smoothing as a share of a bump's size: keeps the bump, not the grain."""
EYE_MM = 3.0
"""Size of the bumps that are told to the network."""
ONE_AXIS = 0.3
"""Lamps that spread less than this across their main axis tell of one axis only."""


def shade(relief: "Relief", azimuth_deg: float, height_deg: float) -> NDArray[np.uint8]:
    """Shade the surface as if a lamp stood there, by Lambert's law.

    Parameters
    ----------
    relief : Relief
        The relief.
    azimuth_deg : float
        Side on which the lamp stands: 0 above the picture's top edge, 90 right of it.
    height_deg : float
        Its height above the bench.

    Returns
    -------
    (h, w) uint8 array
        255 where the surface faces the lamp, 0 where it turns away. Where nothing is
        known the surface is shaded as a flat one.
    """
    azimuth, height = np.radians((azimuth_deg, height_deg))
    row, col = -np.cos(azimuth) * np.cos(height), np.sin(azimuth) * np.cos(height)
    down, right = relief.slope[..., 0], relief.slope[..., 1]
    facing = np.float32(np.sin(height)) - np.float32(row) * down
    facing -= np.float32(col) * right
    facing /= np.sqrt(1 + down**2 + right**2)
    return np.asarray(np.clip(facing, 0, 1) * 255 + 0.5, dtype=np.uint8)


def bumps(relief: "Relief", size_mm: float) -> NDArray[np.float32]:
    """Measure how far the surface bulges at a given size.

    The convexity: minus the divergence of the slope, smoothed to `size_mm` over the
    pixels where it is known.

    Parameters
    ----------
    relief : Relief
        The relief.
    size_mm : float
        Size of the bumps looked for.

    Returns
    -------
    (h, w) float32 array
        By how much the slope falls across `size_mm`, mean of the directions that the
        lamps tell of: 1 for a bump that rises at 27 degrees and falls at 27 degrees,
        0 for a plane, below 0 for a hollow; 0 where nothing is known.
    """
    size_px = size_mm * relief.px_per_mm
    sigma_px = SMOOTHING * size_px
    known = relief.valid.astype(np.float32)
    weight = np.maximum(cv2.GaussianBlur(known, (0, 0), sigma_px), 1e-3)
    total = np.zeros(known.shape, np.float32)
    for axis, turn in ((0, (0, 1)), (1, (1, 0))):
        smooth = cv2.GaussianBlur(relief.slope[..., axis], (0, 0), sigma_px) / weight
        total -= cv2.Sobel(smooth, cv2.CV_32F, *turn, ksize=3, scale=1 / 8)
    total *= np.float32(size_px / known_axes(relief.lamps))
    total[~relief.valid] = 0
    return total


def in_bytes(
    relief: "Relief", corner_rc: Points, step: float, shape: tuple[int, int]
) -> NDArray[np.uint8]:
    """Say in a byte a pixel how far the surface bulges at the size of an eye.

    Parameters
    ----------
    relief : Relief
        The relief.
    corner_rc : (2,) array
        Corner, px of the photo, of the cut-out of which it is asked.
    step : float
        Px of the cut-out in one px of the photo.
    shape : (int, int)
        Size of the cut-out.

    Returns
    -------
    (H, W) uint8 array
        128 on a plane, towards 255 on bumps and towards 1 in hollows: the hyperbolic
        tangent of `bumps`; 0 where nothing is known.
    """
    ratio = relief.step / step
    row, col = (
        0.5 * ratio + (corner_rc - np.array(relief.corner_rc)) * relief.step - 0.5
    )
    to_relief = np.array([[ratio, 0.0, col], [0.0, ratio, row]])

    def here(plane: NDArray[Any], how: int) -> NDArray[Any]:
        flags = how | cv2.WARP_INVERSE_MAP
        return np.asarray(cv2.warpAffine(plane, to_relief, shape[::-1], flags=flags))

    bulge = here(np.tanh(bumps(relief, EYE_MM)), cv2.INTER_LINEAR)
    known = here(relief.valid.view(np.uint8), cv2.INTER_NEAREST)
    return np.where(known > 0, 128.5 + 126.5 * bulge, 0).astype(np.uint8)


def known_axes(lamps: NDArray[np.float64]) -> int:
    """Say along how many axes, 1 or 2, the lamps tell the slope."""
    apart = lamps[:, :2] - lamps[:, :2].mean(axis=0)
    most, least = np.linalg.svd(apart, compute_uv=False)
    return 1 if least < ONE_AXIS * most else 2
