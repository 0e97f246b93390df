"""What can be measured of a place that may be an eye, in terms a person would use."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Points
from eyefind.look.candidates import Values
from eyefind.look.collar import Collar
from eyefind.look.views import Plane

SPOKES = 16
"""Directions in which a candidate is looked at."""
RINGS = (0.0, 0.35, 0.7, 1.05, 1.4, 1.8, 2.2)
"""Radii looked at, in radii of the candidate: three inside, the rim, three around."""
INSIDE, FLANK, FOOT, AROUND = slice(0, 3), slice(2, 4), slice(3, 5), slice(4, 7)
"""Which of the rings make up which part of a bump."""
CALM_MM = 0.15
"""Standard deviation of the blur that takes noise away before looking."""
NOTICED = 1.0
"""Difference in L*, a*, b* above which one thing differs from another to an eye."""
TYPICAL_MM = 2.5
"""Typical eye, in the middle of the rule's range on a scale of ratios."""
CALM_SD = 0.5
"""Unrest added before dividing by it, lest noise on smooth skin stand out."""


def measure_eyes(
    collar: Collar, work_rc: Points, size_mm: Values, lamp_deg: float
) -> dict[str, Values]:
    """Measure candidates.

    Parameters
    ----------
    collar : Collar
        Crown and collar.
    work_rc : (N, 2) array
        Places, working px.
    size_mm : (N,) array
        Diameters.
    lamp_deg : float
        Where the lamp stands (`eyefind.look.views.lamp_direction`).

    Returns
    -------
    dict of str to (N,) array
        In CIELAB: ``lighter``, ``redder``, ``yellower`` (middle less surroundings),
        ``contrast`` (length of that difference), ``all_round`` (share of directions
        in which the middle differs in the same sense), ``raised`` (how much lighter
        the flank towards the lamp is than the far one; negative in a pit),
        ``askew`` (the same across the lamp's direction, its size only), ``crease``
        (how much darker the foot is than what lies around).

        ``bounded`` (the difference that four of five directions reach at least).

        In standard deviations of this crown (`Collar.odd`): ``unrest`` (spread of
        the surroundings), ``stands_out`` (difference over that spread), ``closed``
        (the same as far as four of five directions reach it, less where the
        difference runs on as in a root), and what it stands out all round as:
        ``as_light``, ``as_dark``, ``as_pink``, ``as_green``, ``as_pale``,
        ``as_blue`` (never negative).

        Place: ``size_mm``, ``odd_size`` (factor from the typical size, logarithm),
        ``neck_mm`` (from the middle of the nearest neck), ``crown_mm`` (outside the
        crown's outline), ``inside`` (share of the surroundings that belongs to the
        clump), ``glare`` (share burnt out).
    """
    around = [collar.clump.astype(np.float32), collar.glare.astype(np.float32)]
    planes = np.dstack([collar.even, collar.odd, *around, collar.off_crown_mm])
    rings = _on_rings(collar, planes, work_rc, size_mm, lamp_deg)
    lab, odd = rings[..., 0:3], rings[..., 3:6]
    belongs, glare = rings[..., 6], rings[..., 7]
    lab[belongs < 0.5] = np.nan
    odd[belongs < 0.5] = np.nan
    seen, rare = _against_ring(lab), _against_ring(odd)
    toward, across = _lit_flank(lab[:, FLANK, :, 0])
    foot = _median(_as_one_ring(lab[:, FOOT, :, 0]))
    bounded = np.quantile(rare.apart, 0.2, axis=1) / (CALM_SD + rare.unrest)
    sense = rare.difference / np.maximum(rare.contrast, 1e-6)[:, None]
    as_what = np.maximum(bounded, 0.0)[:, None] * np.concatenate([sense, -sense], 1)
    light, pink, blue, dark, green, pale = np.maximum(as_what, 0.0).T
    return {
        "lighter": seen.difference[:, 0],
        "redder": seen.difference[:, 1],
        "yellower": seen.difference[:, 2],
        "contrast": seen.contrast,
        "all_round": np.mean(seen.apart > NOTICED, axis=1),
        "raised": toward,
        "askew": np.abs(across),
        "crease": seen.ring[:, 0] - foot,
        "bounded": np.quantile(seen.apart, 0.2, axis=1),
        "unrest": rare.unrest,
        "stands_out": rare.contrast / (CALM_SD + rare.unrest),
        "closed": np.maximum(bounded, 0.0) * np.exp(-_running_on(rare.apart)),
        "as_light": light,
        "as_dark": dark,
        "as_pink": pink,
        "as_green": green,
        "as_pale": pale,
        "as_blue": blue,
        "size_mm": np.asarray(size_mm, float),
        "odd_size": np.abs(np.log(size_mm / TYPICAL_MM)),
        "neck_mm": neck_distance_mm(collar, work_rc)[0],
        "crown_mm": rings[:, 0, 0, 8].astype(float),
        "inside": belongs[:, AROUND].mean((1, 2)).astype(float),
        "glare": glare.mean((1, 2)).astype(float),
    }


def _running_on(apart: Values) -> Values:
    """Second harmonic of the difference over the directions, over its mean."""
    angle = np.arange(SPOKES) * 2 * np.pi / SPOKES
    wave = np.hypot(apart @ np.cos(2 * angle), apart @ np.sin(2 * angle))
    return wave * 2 / SPOKES / (CALM_SD + np.abs(apart.mean(axis=1)))


@dataclass(frozen=True, eq=False)
class _Against:
    """Middle against surroundings: (N, 3), (N, 3), (N,), (N, spokes), (N,) arrays."""

    ring: Values
    difference: Values
    contrast: Values
    apart: Values
    unrest: Values


def _against_ring(samples: Plane) -> _Against:
    """Compare the middle with the ring around it, as a whole and spoke by spoke."""
    around = _as_one_ring(samples[:, AROUND])
    ring = _median(around)
    core = _mean(_as_one_ring(samples[:, INSIDE]))
    difference = core - ring
    contrast = np.linalg.norm(difference, axis=1)
    sense = difference / np.maximum(contrast, 1e-6)[:, None]
    spoke = _mean(samples[:, AROUND], empty=np.nan)
    apart = np.nan_to_num(((core[:, None] - spoke) * sense[:, None]).sum(2))
    unrest = np.linalg.norm(1.48 * _median(np.abs(around - ring[:, None])), axis=1)
    return _Against(ring, difference, contrast, apart, unrest)


def _as_one_ring(samples: Plane) -> Plane:
    """Put the samples of several rings side by side; works for no candidates, too."""
    many, rings, spokes, *channels = samples.shape
    return samples.reshape(many, rings * spokes, *channels)


def neck_distance_mm(
    collar: Collar, work_rc: Points
) -> tuple[Values, NDArray[np.intp]]:
    """Distance to the nearest neck, and which of `collar.necks` it is.

    Returns
    -------
    distance_mm : (N,) array
        Infinite without necks.
    index : (N,) int array
        -1 without necks.
    """
    if not collar.necks:
        return np.full(len(work_rc), np.inf), np.full(len(work_rc), -1)
    necks = collar.to_work(np.stack([tuber.neck_rc_px for tuber in collar.necks]))
    far = np.linalg.norm(work_rc[:, None] - necks[None], axis=2) / collar.px_per_mm
    return far.min(axis=1), far.argmin(axis=1)


def _on_rings(
    collar: Collar, plane: Plane, work_rc: Points, size_mm: Values, lamp_deg: float
) -> Plane:
    """Sample a plane on rings, (N, rings, spokes[, channels]); spoke 0 to the lamp."""
    calm = cv2.GaussianBlur(plane, (0, 0), max(CALM_MM * collar.px_per_mm, 0.3))
    angle = np.deg2rad(lamp_deg) + np.arange(SPOKES) * 2 * np.pi / SPOKES
    radius = np.outer(size_mm / 2 * collar.px_per_mm, RINGS)
    rows = work_rc[:, 0, None, None] - radius[..., None] * np.sin(angle)
    cols = work_rc[:, 1, None, None] + radius[..., None] * np.cos(angle)
    if len(work_rc) == 0:
        return np.zeros((0, len(RINGS), SPOKES, *plane.shape[2:]), np.float32)
    flat = (len(work_rc) * len(RINGS), SPOKES)
    samples = cv2.remap(
        calm,
        cols.reshape(flat).astype(np.float32),
        rows.reshape(flat).astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    shape = (len(work_rc), len(RINGS), SPOKES, *plane.shape[2:])
    return np.asarray(samples.reshape(shape), np.float32)


def _lit_flank(flank: Plane) -> tuple[Values, Values]:
    """Difference of L* between opposite flanks, along the lamp and across it."""
    light = flank.mean(axis=1)
    light = np.where(np.isnan(light), 0.0, light - _mean(light)[:, None])
    angle = np.arange(SPOKES) * 2 * np.pi / SPOKES
    return light @ np.cos(angle) * 4 / SPOKES, light @ np.sin(angle) * 4 / SPOKES


def _mean(samples: Plane, empty: float = 0.0) -> Values:
    """Mean over axis 1 of what is inside the clump; `empty` where nothing is."""
    counted = (~np.isnan(samples)).sum(1)
    mean = np.nansum(samples, axis=1) / np.maximum(counted, 1)
    return np.asarray(np.where(counted == 0, empty, mean), float)


def _median(samples: Plane) -> Values:
    """Median over axis 1 of what is inside the clump; 0 where nothing is."""
    # NaN sorts last; NumPy's own nanmedian is ten times slower on short axes.
    sorted_up = np.sort(samples, axis=1)
    known = (~np.isnan(samples)).sum(axis=1, keepdims=True)
    ends = np.maximum(known - 1, 0) // 2, np.minimum(known // 2, samples.shape[1] - 1)
    low, high = (np.take_along_axis(sorted_up, end, axis=1) for end in ends)
    return np.asarray(np.where(known > 0, (low + high) / 2, 0.0)[:, 0], float)
