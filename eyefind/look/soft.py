"""Soft patches: dark, wet-looking, sharply bounded regions on a body.

We say where to press, never what ails the tuber.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from skimage.measure import label, regionprops

from eyefind.data import Anatomy, Mask, Points, Tuber
from eyefind.look.candidates import Candidates, Found, gathered
from eyefind.look.outline import box_of
from eyefind.look.tissue import Skin, inside_by
from eyefind.look.views import Plane

SOFT_MEASURES = (
    "darker_by",
    "duller_by",
    "edge",
    "free",
    "solid",
    "length_mm",
    "share",
)
STEPS_L = (-6.0, -10.0, -15.0)
"""Levels below the body's own shading at which dark regions are cut out, L*."""
CALM_MM = 0.5
"""Standard deviation of the blur that takes lenticels and noise away."""
LEAST_MM, MOST_SHARE = 4.0, 0.6
"""Smaller regions are spots; larger ones are the tuber itself."""
RIM_MM = 1.0
"""Rim of the body left out."""
RING_MM = 2.5
"""Width of the ring of skin that a region is compared with."""


@dataclass(frozen=True, eq=False)
class _Calm:
    """One body, calmed: colours, steepness of L*, the body less its rim, its rim."""

    lab: Plane
    slope: Plane
    inner: Mask
    rim: Mask


Patch = tuple[Mask, dict[str, float], Any]
"""A dark region of a body, its measures, and scikit-image's account of its shape."""


def soft_patches(skin: Skin, anatomy: Anatomy) -> Candidates:
    """Find dark patches on the bodies.

    Parameters
    ----------
    skin : Skin
        The clump.
    anatomy : Anatomy
        Its parts.

    Returns
    -------
    Candidates
        Measures: ``darker_by``, ``duller_by`` (L* and chroma below the skin around),
        ``edge`` (how steep its border is, L* in a mm), ``free`` (share of its border
        away from the body's rim), ``solid`` (share of its convex hull that it
        fills), ``length_mm``, ``share`` (of the body's area).
    """
    crown = skin.filled(anatomy.crown_outline_px)
    rows: list[Found] = []
    for tuber in anatomy.tubers:
        rows += _on_body(skin, skin.filled(tuber.outline_px) & ~crown, tuber)
    return gathered("soft", rows, SOFT_MEASURES)


def _on_body(skin: Skin, body: Mask, tuber: Tuber) -> list[Found]:
    whole = box_of(body)
    inner = inside_by(body[whole], RIM_MM * skin.px_per_mm)
    if inner.sum() < (2 * LEAST_MM * skin.px_per_mm) ** 2:
        return []
    box = box_of(inner)
    inner = inner[box]
    lab = skin.lab[whole][box]
    lab = cv2.GaussianBlur(lab, (0, 0), CALM_MM * skin.px_per_mm)
    below = lab[..., 0] - _shading(lab[..., 0], inner)
    corner = np.array([whole[0].start + box[0].start, whole[1].start + box[1].start])
    calm = _Calm(lab, _slope(lab[..., 0]), inner, _grown(~inner, 1.5))
    best: list[Patch] = []
    for level in STEPS_L:
        for region in regionprops(label(inner & (below < level), connectivity=1)):
            if region.area_bbox < (LEAST_MM * skin.px_per_mm) ** 2:
                continue
            mask = np.zeros(inner.shape, bool)
            mask[region.slice] = region.image_filled
            if mask.sum() < (LEAST_MM * skin.px_per_mm) ** 2:
                continue
            if mask.sum() > MOST_SHARE * inner.sum():
                continue
            measures = _measures(calm, mask, skin.px_per_mm)
            best = _keep_better(best, (mask, measures, region))
    found = []
    for mask, measures, region in best:
        measures["solid"] = float(region.area / max(region.area_convex, 1))
        measures["length_mm"] = float(region.axis_major_length / skin.px_per_mm)
        outline = skin.to_photo(_outline(mask) + corner)
        place = skin.to_photo(np.argwhere(mask).mean(axis=0) + corner)
        found.append((place, measures["length_mm"], tuber.id, outline, measures))
    return found


def _keep_better(kept: list[Patch], new: Patch) -> list[Patch]:
    """Of regions that overlap keep the one with the steepest border."""
    rivals = [other for other in kept if (other[0] & new[0]).any()]
    if any(other[1]["edge"] >= new[1]["edge"] for other in rivals):
        return kept
    dropped = {id(other[0]) for other in rivals}
    return [other for other in kept if id(other[0]) not in dropped] + [new]


def _measures(calm: _Calm, mask: Mask, px_per_mm: float) -> dict[str, float]:
    """Measure a region; only what lies within reach of it is looked at."""
    share = float(mask.sum() / calm.inner.sum())
    reach = int(np.ceil(RING_MM * px_per_mm)) + 2
    rows, cols = box_of(mask)
    near = np.s_[
        max(rows.start - reach, 0) : rows.stop + reach,
        max(cols.start - reach, 0) : cols.stop + reach,
    ]
    mask, lab, slope = mask[near], calm.lab[near], calm.slope[near]
    away = _away(mask)
    ring = (away <= RING_MM * px_per_mm) & ~(away <= 0.7 * px_per_mm) & calm.inner[near]
    border = mask & ~(cv2.erode(mask.view(np.uint8), np.ones((3, 3))) > 0)
    within = np.median(lab[mask], axis=0)
    around = np.median(lab[ring], axis=0) if ring.any() else within
    free = border & ~calm.rim[near]
    return {
        "darker_by": float(around[0] - within[0]),
        "duller_by": float(np.hypot(*around[1:]) - np.hypot(*within[1:])),
        "edge": float(slope[free].mean() * px_per_mm) if free.any() else 0.0,
        "free": float(free.sum() / max(border.sum(), 1)),
        "share": share,
    }


def _shading(light: Plane, inner: Mask) -> Plane:
    """Fit the light on a rounded body by a quadratic surface, dark patches left out."""
    rows, cols = np.indices(light.shape) / max(light.shape) - 0.5
    terms = np.stack([rows * 0 + 1, rows, cols, rows**2, cols**2, rows * cols], axis=2)
    use = inner.copy()
    for _ in range(3):
        # Six by six: hundreds of times less work than the tall matrix itself.
        tall = terms[use]
        weights, *_ = np.linalg.lstsq(tall.T @ tall, tall.T @ light[use], rcond=None)
        surface = terms @ weights
        left = light - surface
        spread = 1.48 * np.median(np.abs(left[use]))
        kept = inner & (left > -1.5 * spread) & (left < 3 * spread)
        if kept.sum() < 0.3 * inner.sum():
            break
        use = kept
    return np.asarray(surface, np.float32)


def _slope(light: Plane) -> Plane:
    """Steepness, L* in a px."""
    across = cv2.Sobel(light, cv2.CV_32F, 1, 0, scale=1 / 8)
    down = cv2.Sobel(light, cv2.CV_32F, 0, 1, scale=1 / 8)
    return np.asarray(cv2.magnitude(across, down), np.float32)


def _grown(mask: Mask, radius_px: float) -> Mask:
    return np.asarray(_away(mask) <= radius_px)


def _away(mask: Mask) -> Plane:
    """Distance to the mask, px."""
    free = (~mask).view(np.uint8)
    return np.asarray(cv2.distanceTransform(free, cv2.DIST_L2, 5), np.float32)


def _outline(mask: Mask) -> Points:
    found, _ = cv2.findContours(
        mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    return np.asarray(max(found, key=len)[:, 0, ::-1], float)
