"""Parts that are not stored: tubers on tubers, rat's tails, broken necks."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from skimage.measure import label, regionprops
from skimage.morphology import skeletonize

from eyefind.data import Anatomy, Mask, Points, Scale, Stem, Tuber
from eyefind.look.candidates import Candidates, Found, gathered
from eyefind.look.tissue import Skin
from eyefind.look.views import Plane
from eyefind.reduce import reduced_mask, size_at
from eyefind.rules import Rules

SIDE_MEASURES = ("crown_mm", "joint")
"""Of a tuber on a tuber: distance of its neck from the crown, and its own neck's width
in widths of the host's body."""
TAIL_MEASURES = ("length_mm", "width_mm", "hangs_on")
"""Of a rat's tail: its size, and how many thick parts it touches."""
BREAK_MEASURES = ("crease", "crease_others", "kink_deg")
"""Of a neck: the dark line across it in L*, the same above the other necks' median,
and the bend of the axis there."""

THIN_PX_PER_MM = 2.0
"""Scale at which thin parts are looked for: a root of 1 mm still spans 2 px."""
STRIP_MM, STRIP_PX_PER_MM = 9.0, 4.0
"""Half the length of the strip looked at along a neck, and its scale."""
CREASE_MM = (0.5, 1.6)
"""Standard deviations of the two blurs between which a crease lies."""
SLANTS = (-0.5, -0.25, 0.0, 0.25, 0.5)
"""Slopes of a crease against the straight line across the neck."""


def tubers_on_tubers(anatomy: Anatomy, scale: Scale) -> Candidates:
    """Take from the anatomy the tubers that hang on another tuber.

    Such a tuber never has an eye (Minnesota Dahlia Society, Digging and Dividing).

    Returns
    -------
    Candidates
        Measures `SIDE_MEASURES`.
    """
    hosts = {tuber.id: tuber for tuber in anatomy.tubers}
    rows: list[Found] = []
    for tuber in anatomy.tubers:
        if tuber.attached_to not in hosts:
            continue
        host = hosts[tuber.attached_to]
        crown = anatomy.crown_outline_px
        away = np.inf
        if len(crown):
            away = np.hypot(*(crown - tuber.neck_rc_px).T).min() / scale.px_per_mm
        measures = {
            "crown_mm": float(min(away, 99.0)),
            "joint": tuber.neck_width_mm / max(host.max_diameter_mm, 1.0),
        }
        place = tuber.axis_px[len(tuber.axis_px) // 2]
        rows.append((place, tuber.length_mm, tuber.id, tuber.outline_px, measures))
    return gathered("tuber_on_tuber", rows, SIDE_MEASURES)


def rat_tails(clump: Mask, anatomy: Anatomy, scale: Scale, rules: Rules) -> Candidates:
    """Find long thin roots and long thin ends in the clump's outline.

    What a disc of the rule's diameter cannot enter is thin; what is thin over the
    rule's length and hangs on one thick part only is a tail (a neck joins two).

    Returns
    -------
    Candidates
        Measures `TAIL_MEASURES`.
    """
    step = min(1.0, THIN_PX_PER_MM / scale.px_per_mm)
    px_per_mm = scale.px_per_mm * step
    small = reduced_mask(clump, size_at(clump.shape, step)).view(np.uint8)
    thick = cv2.morphologyEx(
        small, cv2.MORPH_OPEN, _disc(rules.value("rat_tail_diameter_mm") * px_per_mm)
    )
    thin = (small > 0) & (cv2.dilate(thick, _disc(1.0 * px_per_mm)) == 0)
    parts = label(thick, connectivity=2)
    rows: list[Found] = []
    for region in regionprops(label(thin, connectivity=2)):
        mask = np.pad(region.image, 2)
        length_mm = float(skeletonize(mask).sum() / px_per_mm)
        if length_mm < rules.value("rat_tail_length_mm"):
            continue
        outline = (_outline(mask) - 2 + region.bbox[:2] + 0.5) / step - 0.5
        measures = {
            "length_mm": length_mm,
            "width_mm": float(region.area / px_per_mm**2 / length_mm),
            "hangs_on": float(_touching(region, parts, px_per_mm)),
        }
        middle = region.coords[len(region.coords) // 2]
        place = (middle + 0.5) / step - 0.5
        owner = nearest_part(place, anatomy)
        rows.append((place, length_mm, owner, outline, measures))
    return gathered("rat_tail", rows, TAIL_MEASURES)


def nearest_part(place_rc: Points, anatomy: Anatomy) -> str | None:
    """Return the id of the tuber or stem whose outline comes nearest to a place."""
    parts: list[Tuber | Stem] = [*anatomy.tubers, *anatomy.stems]
    if not parts:
        return None
    far = [np.hypot(*(part.outline_px - place_rc).T).min() for part in parts]
    return parts[int(np.argmin(far))].id


def _touching(region: object, parts: NDArray[np.intp], px_per_mm: float) -> int:
    """Count the thick parts that a thin region touches."""
    grown = np.zeros(parts.shape, np.uint8)
    grown[tuple(region.coords.T)] = 1  # type: ignore[attr-defined]
    grown = cv2.dilate(grown, _disc(3.0 * px_per_mm))
    touched = np.unique(label((grown > 0) & (parts > 0), connectivity=2))
    return len(touched) - 1


def _outline(mask: Mask) -> Points:
    found, _ = cv2.findContours(
        mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    return max(found, key=len)[:, 0, ::-1].astype(float)


def _disc(diameter_px: float) -> NDArray[np.uint8]:
    size = 2 * max(1, round(diameter_px / 2)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)))


def broken_necks(skin: Skin, anatomy: Anatomy) -> Candidates:
    """Look for a dark crease across each neck, and a kink in the axis.

    A crease, crack or hinge: common practice, no source.

    Returns
    -------
    Candidates
        One a neck. Measures `BREAK_MEASURES`.
    """
    tubers = [tuber for tuber in anatomy.tubers if len(tuber.axis_px) > 2]
    light = np.ascontiguousarray(skin.lab[..., 0])
    creases = [_crease(skin, light, tuber) for tuber in tubers]
    rows: list[Found] = []
    for index, tuber in enumerate(tubers):
        depth, place = creases[index]
        others = [d for i, (d, _) in enumerate(creases) if i != index]
        measures = {
            "crease": depth,
            "crease_others": depth - (float(np.median(others)) if others else 0.0),
            "kink_deg": _kink_deg(skin, tuber),
        }
        rows.append((place, tuber.neck_width_mm, tuber.id, None, measures))
    return gathered("broken_neck", rows, BREAK_MEASURES)


def _crease(skin: Skin, light: Plane, tuber: Tuber) -> tuple[float, Points]:
    """Darkest line across the neck, L* below its neighbours, and where it is."""
    axis = _along_neck(skin, tuber)
    direction = np.gradient(axis, axis=0)
    direction /= np.maximum(np.hypot(*direction.T), 1e-6)[:, None]
    across = np.stack([-direction[:, 1], direction[:, 0]], axis=1)
    half = max(tuber.neck_width_mm * 0.35, 1.0) * skin.px_per_mm
    sides = np.linspace(-half, half, 9)
    best, where = 0.0, len(axis) // 2
    for slant in SLANTS:
        place = axis[:, None] + across[:, None] * sides[:, None]
        place = place + direction[:, None] * (slant * sides)[:, None]
        strip = _sampled(light, place)
        fine, coarse = (mm * STRIP_PX_PER_MM for mm in CREASE_MM)
        dip = gaussian_filter1d(strip, coarse, 0) - gaussian_filter1d(strip, fine, 0)
        # All the way across: what three quarters of the width reach at least.
        line = np.quantile(dip, 0.25, axis=1)
        edge = round(2 * CREASE_MM[1] * STRIP_PX_PER_MM)
        middle = line[edge:-edge]
        if len(middle) and middle.max() > best:
            best, where = float(middle.max()), edge + int(middle.argmax())
    return best, skin.to_photo(axis[where])


def _along_neck(skin: Skin, tuber: Tuber) -> Points:
    """Points of the axis on both sides of the neck, working px, evenly spaced."""
    axis = skin.to_work(tuber.axis_px)
    along = np.concatenate([[0.0], np.hypot(*np.diff(axis, axis=0).T).cumsum()])
    neck = skin.to_work(tuber.neck_rc_px)
    at = along[np.argmin(np.hypot(*(axis - neck).T))] / skin.px_per_mm
    count = round(2 * STRIP_MM * STRIP_PX_PER_MM) + 1
    wanted = (at + np.linspace(-STRIP_MM, STRIP_MM, count)) * skin.px_per_mm
    smooth = [np.interp(wanted, along, axis[:, i]) for i in range(2)]
    return np.stack(smooth, axis=1)


def _sampled(plane: Plane, place_rc: NDArray[np.float64]) -> Plane:
    rows, cols = (place_rc[..., i].astype(np.float32) for i in range(2))
    return np.asarray(cv2.remap(plane, cols, rows, cv2.INTER_LINEAR))


def _kink_deg(skin: Skin, tuber: Tuber) -> float:
    """Bend of the axis at the neck between the parts before and behind it."""
    axis = _along_neck(skin, tuber)
    middle = len(axis) // 2
    before, behind = axis[middle] - axis[0], axis[-1] - axis[middle]
    lengths = np.hypot(*before) * np.hypot(*behind)
    if lengths == 0:
        return 0.0
    return float(np.rad2deg(np.arccos(np.clip(before @ behind / lengths, -1, 1))))
