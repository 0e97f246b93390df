"""Split the clump into blobs: round or long pieces that hang together by waists.

Depth is the distance to the nearest outline or dark crease. Each hill of depth is a
blob; hills whose saddle is nearly as deep as the lower of them are one.
"""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.segmentation import watershed

from eyefind.data import Mask
from eyefind.look.frame import Frame
from eyefind.look.views import Plane

Labels = NDArray[np.int32]

MERGE_RATIO = 0.75
"""Two hills are one when their saddle is deeper than this share of the lower one."""
LEAST_RADIUS_MM = 1.5
"""Thinner hills are roots or the outline's own roughness."""
CREASE_SIGMA_MM = 0.5
"""Smoothing before creases are looked for."""
CREASE_WIDTH_MM = 2.5
"""A wider dark place is a shadow or a dark body."""
CREASE_DEPTH = 0.10
"""Depth of a crease: share of light lost against both its sides."""
CREASE_LENGTH_MM = 12.0
"""A shorter dark line is a wrinkle or a speck."""


def depth_between(solid: Mask, lines: Mask, px_per_mm: float) -> Plane:
    """Measure the distance to the nearest outline or crease.

    Parameters
    ----------
    solid : (h, w) bool array
        Tissue.
    lines : (h, w) bool array
        Creases.
    px_per_mm : float
        Scale.

    Returns
    -------
    (h, w) float32 array
        mm; 0 outside the tissue.
    """
    free = (solid & ~lines).astype(np.uint8)
    depth = cv2.distanceTransform(free, cv2.DIST_L2, 5)
    depth = cv2.GaussianBlur(depth / px_per_mm, (0, 0), 1.0)
    return np.where(solid, depth, 0).astype(np.float32)


def creases(frame: Frame) -> Mask:
    """Find the dark lines at which one body ends and the next begins.

    Parameters
    ----------
    frame : Frame
        The clump.

    Returns
    -------
    (h, w) bool array
        Lines a pixel or two wide.
    """
    grey = cv2.cvtColor(frame.rgb, cv2.COLOR_RGB2GRAY).astype(np.float32)
    light = np.log(np.maximum(grey, 8.0))
    light[~frame.mask] = float(np.median(light[frame.mask]))
    light = cv2.GaussianBlur(light, (0, 0), CREASE_SIGMA_MM * frame.px_per_mm)
    size = 2 * round(CREASE_WIDTH_MM * frame.px_per_mm) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    valley = cv2.morphologyEx(light, cv2.MORPH_BLACKHAT, disc)
    rim = cv2.erode(frame.mask.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    dark = (valley > CREASE_DEPTH) & rim
    _, label, stats, _ = cv2.connectedComponentsWithStats(dark.astype(np.uint8))
    long = np.hypot(stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT])
    keep = long >= CREASE_LENGTH_MM * frame.px_per_mm
    keep[0] = False
    return np.asarray(keep[label])


def split_depth(mask: Mask, depth_mm: Plane) -> Labels:
    """Split a mask by the hills of a depth map.

    Parameters
    ----------
    mask : (h, w) bool array
        What to split.
    depth_mm : (h, w) float32 array
        Depth, mm.

    Returns
    -------
    (h, w) int32 array
        Number of each pixel's blob from 1; 0 outside the mask.
    """
    top = depth_mm >= cv2.dilate(depth_mm, np.ones((5, 5), np.uint8))
    markers, count = ndimage.label(top & mask & (depth_mm > LEAST_RADIUS_MM))
    if count == 0:
        markers = (depth_mm == depth_mm.max()).astype(np.int32)
    label = watershed(-depth_mm, markers.astype(np.int32), mask=mask)
    peaks = np.zeros(label.max() + 1, np.float32)
    np.maximum.at(peaks, label.ravel(), depth_mm.ravel())
    group = _merged(peaks, _saddles(label, depth_mm))
    return group[label]


def _pairs(label: Labels) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Flat indices of neighbouring pixels with different labels, none of them 0."""
    index = np.arange(label.size).reshape(label.shape)
    ones, others = [], []
    for a, b in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        differ = (label[a] != label[b]) & (label[a] > 0) & (label[b] > 0)
        ones.append(index[a][differ])
        others.append(index[b][differ])
    return np.concatenate(ones), np.concatenate(others)


def _saddles(label: Labels, depth: Plane) -> list[tuple[float, int, int]]:
    """Depth of the saddle between each two neighbours, deepest first."""
    one, other = _pairs(label)
    flat, height = label.ravel(), depth.ravel()
    low = np.minimum(height[one], height[other])
    ends = np.sort(np.stack([flat[one], flat[other]], axis=1), axis=1)
    best: dict[tuple[int, int], float] = {}
    for (a, b), value in zip(ends.tolist(), low.tolist(), strict=True):
        best[a, b] = max(best.get((a, b), 0.0), value)
    return sorted(((value, a, b) for (a, b), value in best.items()), reverse=True)


def _merged(
    peaks: NDArray[np.float32], saddles: list[tuple[float, int, int]]
) -> Labels:
    """Join hills that are one; returns the new number of each old one."""
    parent = list(range(len(peaks)))
    height = peaks.tolist()

    def root(hill: int) -> int:
        while parent[hill] != hill:
            hill = parent[hill]
        return hill

    for saddle, one, other in saddles:
        a, b = root(one), root(other)
        if a == b:
            continue
        low, high = sorted((a, b), key=lambda hill: height[hill])
        if saddle > MERGE_RATIO * height[low]:
            parent[low] = high
    roots = np.array([root(hill) for hill in range(len(peaks))])
    return np.unique(roots, return_inverse=True)[1].astype(np.int32)
