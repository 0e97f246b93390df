"""How blurred a photo is: from the card's edges, or roughly from the clump's own."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import erf

from eyefind.data import Mask, Pixels
from eyefind.photo.card_layout import CELL_MM, MARKER_MM, marker_corners_mm
from eyefind.reduce import reduced, size_at

Floats = NDArray[np.float64]


def _linear_light() -> NDArray[np.float32]:
    """Return linear light, 0 to 1, of the 256 sRGB values (IEC 61966-2-1)."""
    value = np.arange(256) / 255.0
    curve = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return curve.astype(np.float32)


LINEAR = _linear_light()
"""(256,) float32: linear light, 0 to 1, by sRGB value."""

PROFILE_MM = 0.9 * CELL_MM
"""How far a profile reaches to either side: the marker's border is one cell wide."""
CORNER_FREE_MM = 0.2 * MARKER_MM
"""Left out at either end of a side, where two edges blur into each other."""
LEAST_CONTRAST = 0.01
"""Linear light between the sides of an edge that can be measured."""
BINS_PER_PX = 4
LEAST_SIGMA_PX = 0.2
"""A pixel alone blurs by 0.29 px; less cannot be."""

ROUGH_PX_PER_MM = 5.0
"""The rough measure reduces the photo to this: noise goes, blur of 0.1 mm stays."""
ROUGH_SIGMAS_PX = (1.0, 2.0)
"""Blurs whose gradients are compared."""
LEAST_GRADIENT = 0.01
"""Linear light a pixel: weaker ones are noise."""
FIT_TOLERANCE = 1e-4
"""Relative change at which the fit of an edge has settled."""
LEAST_EDGE_PX = 50
"""Fewer pixels make no measurement."""
STRONGEST = 0.05
"""Share of the gradients that is looked at."""
SHARPEST = 0.25
"""Quantile of their widths that stands for the lens."""


def card_blur_mm(
    grey: NDArray[np.uint8], card_to_photo: Floats, found: Sequence[int]
) -> float:
    """Measure the blur on the outer edges of the card's markers.

    Each side's pixels, sorted by their distance from it in the card's plane, are one
    finely sampled edge (the idea of the slanted edge of ISO 12233); the error
    function fitted to it in linear light gives the sigma of a Gaussian blur, pixel
    size included. The median is taken over the upright and over the level sides
    apart, and the larger returned: motion blurs one direction only.

    Parameters
    ----------
    grey : (H, W) uint8 array
        Photo in grey.
    card_to_photo : (3, 3) array
        Homography from card mm (x, y) to photo px (x, y).
    found : sequence of int
        Ids of the markers that were seen.

    Returns
    -------
    float
        Sigma in mm on the card; NaN if no edge could be measured. Beyond about
        1.3 mm it reads too low, since the profile ends at 2.7 mm.
    """
    sigmas: tuple[list[float], list[float]] = ([], [])
    photo_to_card = np.asarray(np.linalg.inv(card_to_photo), np.float64)
    for marker in found:
        corners = marker_corners_mm(marker)
        for number in range(4):
            # Sides 0 and 2 are level, 1 and 3 upright.
            side = corners[number], corners[(number + 1) % 4]
            sigma_mm = _side_blur_mm(grey, card_to_photo, photo_to_card, *side)
            if sigma_mm is not None:
                sigmas[number % 2].append(sigma_mm)
    return max((float(np.median(each)) for each in sigmas if each), default=np.nan)


def _side_blur_mm(
    grey: NDArray[np.uint8],
    card_to_photo: Floats,
    photo_to_card: Floats,
    start_mm: Floats,
    end_mm: Floats,
) -> float | None:
    along = (end_mm - start_mm) / MARKER_MM
    outward = np.array([along[1], -along[0]])
    first, last = start_mm + along * CORNER_FREE_MM, end_mm - along * CORNER_FREE_MM
    reach = outward * PROFILE_MM
    box_mm = np.array([first - reach, first + reach, last + reach, last - reach])
    box = cv2.perspectiveTransform(box_mm[None], card_to_photo)[0]
    (left, top), (right, bottom) = box.min(axis=0), box.max(axis=0)
    if left < 0 or top < 0 or right > grey.shape[1] - 1 or bottom > grey.shape[0] - 1:
        return None
    cols, rows = np.meshgrid(
        np.arange(int(left), int(right) + 1), np.arange(int(top), int(bottom) + 1)
    )
    places = np.column_stack([cols.ravel(), rows.ravel()]).astype(np.float64)
    on_card = cv2.perspectiveTransform(places[None], photo_to_card)[0] - start_mm
    across, length = on_card @ outward, on_card @ along
    inside = (np.abs(across) < PROFILE_MM) & (
        np.abs(length - MARKER_MM / 2) < MARKER_MM / 2 - CORNER_FREE_MM
    )
    if np.count_nonzero(inside) < LEAST_EDGE_PX:
        return None
    light = LINEAR[grey[rows.ravel()[inside], cols.ravel()[inside]]]
    px_per_mm = float(np.linalg.norm(box[0] - box[1])) / (2 * PROFILE_MM)
    return _edge_sigma(across[inside], light, 1.0 / (BINS_PER_PX * px_per_mm))


def _edge_sigma(
    across: Floats, light: NDArray[np.float32], bin_mm: float
) -> float | None:
    """Fit a blurred edge to light over distance; None if there is none."""
    bins = np.round(across / bin_mm).astype(int)
    bins -= bins.min()
    counts = np.bincount(bins)
    filled = counts > 0
    place = (np.bincount(bins, across)[filled]) / counts[filled]
    level = (np.bincount(bins, light)[filled]) / counts[filled]
    dark, bright = np.percentile(level, (5, 95))
    if bright - dark < LEAST_CONTRAST:
        return None
    sharpest = LEAST_SIGMA_PX * BINS_PER_PX * bin_mm
    fit = least_squares(
        lambda knobs: _misfit(place, level, *knobs),
        (0.0, max(0.2, 2 * sharpest)),
        bounds=((-CELL_MM, sharpest), (CELL_MM, CELL_MM)),
        xtol=FIT_TOLERANCE,
        ftol=FIT_TOLERANCE,
        max_nfev=50,
    )
    return float(fit.x[1])


def _misfit(place: Floats, level: Floats, middle: float, sigma: float) -> Floats:
    """Return what is left of a profile after its best edge of this place and width.

    The edge is black, plus the white margin outside, plus what shines in from the
    cells inside the border, each by the amount that fits best.
    """
    spread = np.sqrt(2) * sigma
    margin = erf((place - middle) / spread)
    cells = erf((place - middle + CELL_MM) / spread)
    parts = np.column_stack([np.ones_like(place), 1 + margin, 1 - cells])
    amounts = np.linalg.lstsq(parts, level, rcond=1e-6)[0]
    return np.asarray(parts @ amounts - level)


def rough_blur_mm(rgb: Pixels, clump: Mask, px_per_mm: float) -> float:
    """Estimate the blur from the sharpest edges in and around the clump.

    The gradient of an edge falls by a known factor when it is blurred once more
    (Zhuo & Sim, Pattern Recognition 44:1852-1858, 2011). Skin has few sharp edges,
    so that the sharpest `SHARPEST` of the strong ones stand for the lens. Rough: a
    clump without any sharp edge looks blurred, noise looks sharp.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        Photo.
    clump : (H, W) bool array
        Mask of the clump.
    px_per_mm : float
        Scale of the photo.

    Returns
    -------
    float
        Sigma in mm; NaN where there is no edge to measure.
    """
    left, top, width, height = cv2.boundingRect(clump.view(np.uint8))
    if width == 0:
        return float("nan")
    box = np.s_[top : top + height, left : left + width]
    factor = min(1.0, ROUGH_PX_PER_MM / px_per_mm)
    grey = cv2.cvtColor(rgb[box], cv2.COLOR_RGB2GRAY)
    small = reduced(grey, size_at(grey.shape, factor))
    mask = cv2.resize(
        clump[box].view(np.uint8), small.shape[::-1], interpolation=cv2.INTER_NEAREST
    )
    mask = cv2.dilate(mask, np.ones((5, 5), np.uint8))
    light = LINEAR[small]
    once, twice = (_gradient(light, sigma) for sigma in ROUGH_SIGMAS_PX)
    strong = (mask > 0) & (once > LEAST_GRADIENT)
    if strong.sum() < LEAST_EDGE_PX:
        return float("nan")
    strong &= once >= np.quantile(once[strong], 1 - STRONGEST)
    ratio2 = np.maximum((once[strong] / twice[strong]) ** 2, 1 + 1e-6)
    low2, high2 = (sigma**2 for sigma in ROUGH_SIGMAS_PX)
    sigma2 = np.maximum((high2 - ratio2 * low2) / (ratio2 - 1), 0.0)
    sigma_px = float(np.sqrt(np.quantile(sigma2, SHARPEST)))
    return sigma_px / (factor * px_per_mm)


def _gradient(light: NDArray[np.float32], sigma_px: float) -> NDArray[np.float32]:
    smooth = cv2.GaussianBlur(light, (0, 0), sigma_px)
    down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
    right = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
    return np.asarray(cv2.magnitude(down, right), dtype=np.float32)
