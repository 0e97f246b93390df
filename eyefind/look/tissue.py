"""Tissue: the spent parent among the tubers, and soft patches on them.

A dark tuber alone says little: soil, a dark variety and wet skin darken too. So every
measure is taken relative to the other tubers of the same clump.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Anatomy, Mask, Pixels, Points, Scale
from eyefind.look.candidates import Candidates, Found, gathered
from eyefind.look.outline import box_of, filled
from eyefind.look.views import Plane, to_lab
from eyefind.reduce import reduced, size_at, window_of

WORK_PX_PER_MM = 4.0
"""Scale worked at: the finest wrinkle looked at, 1 mm, spans 4 px."""
MARGIN_PX = 4
"""Bench kept around the clump, px of the photo."""
RIM_MM = 1.5
"""Rim of an outline left out: it is foreshortened and mixes with what lies behind."""
WRINKLE_MM = (0.4, 1.2)
"""Standard deviations of the two blurs between which wrinkles of 1 to 3 mm lie."""
LEAST_SPREAD = {
    "darker": 4.0,
    "duller": 3.0,
    "browner": 2.0,
    "wrinkled": 0.15,
    "ragged": 0.02,
}
"""Differences this small are within what sound tubers of one clump differ by."""


@dataclass(frozen=True, eq=False)
class Skin:
    """The clump cut out at the working scale.

    Attributes
    ----------
    corner_rc : (2,) array
        Corner of the cut-out in the photo, px.
    step, px_per_mm : float
        Working px in one px of the photo; in one mm.
    lab : (h, w, 3) float32 array
        CIELAB.
    """

    corner_rc: Points
    step: float
    px_per_mm: float
    lab: Plane

    def to_work(self, photo_rc: Points) -> Points:
        """Turn px of the photo into working px."""
        return (photo_rc - self.corner_rc + 0.5) * self.step - 0.5

    def to_photo(self, work_rc: Points) -> Points:
        """Turn working px into px of the photo."""
        return (work_rc + 0.5) / self.step - 0.5 + self.corner_rc

    def filled(self, outline_px: Points) -> Mask:
        """Fill an outline, given in px of the photo."""
        return filled(self.to_work(outline_px), self.lab.shape[:2])


def look_at_skin(rgb: Pixels, clump: Mask, scale: Scale) -> Skin:
    """Bring the clump, not empty, to the working scale, in CIELAB."""
    step = min(1.0, WORK_PX_PER_MM / scale.px_per_mm)
    rows, cols = window_of(clump, MARGIN_PX)
    cut = rgb[rows, cols]
    small = reduced(cut, size_at(cut.shape, step))
    corner = np.array([rows.start, cols.start], float)
    return Skin(corner, step, scale.px_per_mm * step, to_lab(small))


def inside_by(mask: Mask, rim_px: float) -> Mask:
    """Leave out a mask's rim; the picture's frame counts as its outline."""
    depth = cv2.distanceTransform(np.pad(mask, 1).view(np.uint8), cv2.DIST_L2, 5)
    return np.asarray(depth[1:-1, 1:-1] > rim_px)


PARENT_MEASURES = (
    "darker_by",
    "darker",
    "duller",
    "browner",
    "wrinkled",
    "ragged",
    "central",
    "compared_with",
)


def tubers_as_parents(skin: Skin, anatomy: Anatomy) -> Candidates:
    """Measure how far each tuber looks like the spent parent among the others.

    Parameters
    ----------
    skin : Skin
        The clump.
    anatomy : Anatomy
        Its parts.

    Returns
    -------
    Candidates
        One a tuber. Measures: ``darker_by`` (L* below the median of the others);
        ``darker``, ``duller`` (less chroma), ``browner`` (less yellow for its
        chroma), ``wrinkled`` (unrest of 1 to 3 mm) and ``ragged`` (hollows in the
        outline), each in robust standard deviations of the others; ``central`` (how
        much nearer the crown's middle than the others, in their distances);
        ``compared_with`` (number of others).
    """
    tubers = anatomy.tubers
    if not tubers:
        return gathered("spent_parent", [], PARENT_MEASURES)
    crown = skin.filled(anatomy.crown_outline_px)
    raw = [_look_of(skin, skin.filled(tuber.outline_px) & ~crown) for tuber in tubers]
    middle = _middle(anatomy)
    far = [float(np.hypot(*(t.axis_px[-1] - middle))) for t in tubers]
    rows: list[Found] = []
    for index, tuber in enumerate(tubers):
        others = [look for i, look in enumerate(raw) if i != index]
        measures = {
            name: _apart(raw[index][name], [o[name] for o in others], least)
            for name, least in LEAST_SPREAD.items()
        }
        typical = _middle_value([o["darker"] for o in others], raw[index]["darker"])
        measures["darker_by"] = float(np.nan_to_num(raw[index]["darker"] - typical))
        reach = _middle_value([f for i, f in enumerate(far) if i != index], far[index])
        measures["central"] = 1.0 - far[index] / max(reach, 1.0)
        measures["compared_with"] = float(len(others))
        place = tuber.axis_px[len(tuber.axis_px) // 2]
        rows.append((place, tuber.length_mm, tuber.id, tuber.outline_px, measures))
    return gathered("spent_parent", rows, PARENT_MEASURES)


def _look_of(skin: Skin, mask: Mask) -> dict[str, float]:
    """Measure one tuber; each value grows with likeness to a spent parent."""
    box = box_of(mask)
    mask, lab = mask[box], skin.lab[box]
    inner = inside_by(mask, RIM_MM * skin.px_per_mm)
    if inner.sum() < 20:
        inner = mask
    if not inner.any():
        return dict.fromkeys(LEAST_SPREAD, np.nan)
    box = box_of(inner)
    mask_px = inner[box]
    light, red, yellow = lab[box][mask_px].T
    fine = _between(np.ascontiguousarray(lab[box][..., 0]), skin.px_per_mm)
    chroma = np.hypot(red, yellow)
    return {
        "darker": -float(np.median(light)),
        "duller": -float(np.median(chroma)),
        "browner": float(np.median(red) - np.median(yellow) * 0.5),
        "wrinkled": float(np.log(np.std(fine[mask_px]) / _level(light) + 1e-4)),
        "ragged": _hollows(mask, skin.px_per_mm),
    }


def _between(light: Plane, px_per_mm: float) -> Plane:
    fine, coarse = (max(mm * px_per_mm, 0.3) for mm in WRINKLE_MM)
    near = cv2.GaussianBlur(light, (0, 0), fine)
    return np.asarray(near - cv2.GaussianBlur(light, (0, 0), coarse))


def _level(light: NDArray[np.float32]) -> float:
    return max(float(np.median(light)), 5.0)


def _hollows(mask: Mask, px_per_mm: float) -> float:
    """Share of hollows up to about 6 mm wide along the outline."""
    size = 2 * max(1, round(3.0 * px_per_mm)) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    padded = np.pad(mask, size).astype(np.uint8)
    closed = cv2.morphologyEx(padded, cv2.MORPH_CLOSE, kernel)
    return float(closed.sum() / max(padded.sum(), 1) - 1.0)


def _apart(value: float, others: list[float], least: float) -> float:
    """Robust standard deviations above the median of the others; 0 without any."""
    known = np.array([other for other in others if not np.isnan(other)])
    if len(known) == 0 or np.isnan(value):
        return 0.0
    middle = np.median(known)
    spread = 1.48 * float(np.median(np.abs(known - middle)))
    return float((value - middle) / max(spread, least))


def _middle_value(others: list[float], own: float) -> float:
    known = [other for other in others if not np.isnan(other)]
    return float(np.median(known)) if known else own


def _middle(anatomy: Anatomy) -> Points:
    outline = anatomy.crown_outline_px
    if len(outline) == 0:
        outline = anatomy.clump_outline_px
    return np.asarray(outline.mean(axis=0))
