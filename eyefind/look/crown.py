"""Tell the clump's tissue from gaps in it, and find the crown."""

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask
from eyefind.look.parts import BODY, CROWN, GAP, STEM
from eyefind.look.views import Plane

GAP_MM2 = 25.0
"""A smaller gap is dirt or glare."""
CROWN_SPREAD_MM = 6.0
"""Width of the blur under which the crown's middle is looked for."""
LEAST_CROWN = 0.25
"""Blurred chance at the crown's middle below which there is no crown."""
CROWN_GAP_MM = 3.0
"""Crown tissue is joined across gaps of twice this."""
CORE_SHARE = 0.5
"""What is thinner than this share of the crown's thickness only trails from it."""


def solid_part(mask: Mask, chances: Plane, px_per_mm: float) -> Mask:
    """Take the gaps out of a clump's mask.

    Parameters
    ----------
    mask : (h, w) bool array
        The clump.
    chances : (h, w, 4) float32 array
        What each pixel is.
    px_per_mm : float
        Scale.

    Returns
    -------
    (h, w) bool array
        Tissue; may lie in several pieces. The mask itself if all of it looked like a
        gap.
    """
    gap = (chances.argmax(axis=2) == GAP) & mask
    _, label, stats, _ = cv2.connectedComponentsWithStats(gap.astype(np.uint8))
    large = stats[:, cv2.CC_STAT_AREA] > GAP_MM2 * px_per_mm**2
    large[0] = False
    solid = mask & ~large[label]
    return solid if solid.any() else mask


def find_crown(solid: Mask, chances: Plane, px_per_mm: float) -> Mask:
    """Find the crown: the rough, central tissue around its likeliest place.

    Parameters
    ----------
    solid : (h, w) bool array
        Tissue.
    chances : (h, w, 4) float32 array
        What each pixel is.
    px_per_mm : float
        Scale.

    Returns
    -------
    (h, w) bool array
        One region; empty when nothing looks enough like a crown.
    """
    spread = cv2.GaussianBlur(
        np.where(solid, chances[..., CROWN], 0), (0, 0), CROWN_SPREAD_MM * px_per_mm
    )
    middle = np.unravel_index(int(np.argmax(spread)), spread.shape)
    if spread[middle] < LEAST_CROWN:
        return np.zeros_like(solid)
    body, own, stem = (chances[..., part] for part in (BODY, CROWN, STEM))
    most = (own > body) & (own >= stem)
    closed = cv2.morphologyEx(
        (most & solid).astype(np.uint8),
        cv2.MORPH_CLOSE,
        disc(CROWN_GAP_MM * px_per_mm),
    )
    return _core(closed & solid.astype(np.uint8), spread)


def _core(tissue: NDArray[np.uint8], spread: Plane) -> Mask:
    """Keep the likeliest lump of crown tissue, without what trails from it."""
    depth = cv2.distanceTransform(tissue, cv2.DIST_L2, 5)
    count, label = cv2.connectedComponents(tissue)
    if count < 2:
        return tissue > 0
    votes = np.bincount(label.ravel(), weights=(spread * tissue).ravel())
    own = label == 1 + int(np.argmax(votes[1:]))
    radius = CORE_SHARE * float(depth[own].max())
    inner = (own & (depth >= radius)).astype(np.uint8)
    swept = cv2.dilate(inner, disc(radius)) > 0
    _, label, stats, _ = cv2.connectedComponentsWithStats(
        (swept & own).astype(np.uint8)
    )
    return np.asarray(label == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA])))


def disc(radius_px: float) -> NDArray[np.uint8]:
    """Return a round structuring element, at least 3 px wide."""
    size = 2 * max(1, round(radius_px)) + 1
    return np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8
    )
