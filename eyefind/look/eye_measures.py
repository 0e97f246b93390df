"""What can be measured of a place that may be an eye, in terms a person would use."""

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
        By name:

        lighter, redder, yellower
            Difference of middle and surroundings in L*, a*, b*.
        contrast
            Length of that difference.
        stands_out
            `contrast` over the unrest of the surroundings.
        all_round
            Share of directions in which the middle differs in the same sense.
        raised
            How much lighter the flank towards the lamp is than the far one, L*;
            negative in a pit.
        askew
            The same across the lamp's direction, its size only.
        crease
            How much darker the foot is than what lies around, L*.
        unrest
            Spread of L* around.
        glare
            Share of burnt-out pixels in it and around.
        inside
            Share of the surroundings that belongs to the clump.
        size_mm
            Diameter.
        neck_mm
            Distance from the middle of the nearest neck.
    """
    lab = _on_rings(collar, collar.even, work_rc, size_mm, lamp_deg)
    odd = _on_rings(collar, collar.odd, work_rc, size_mm, lamp_deg)
    clump = _on_rings(collar, collar.clump.astype(np.float32), work_rc, size_mm, 0.0)
    glare = _on_rings(collar, collar.glare.astype(np.float32), work_rc, size_mm, 0.0)
    lab[clump < 0.5] = np.nan
    odd[clump < 0.5] = np.nan
    oring = _median(odd[:, AROUND].reshape(len(odd), -1, 3))
    ocore = _mean(odd[:, INSIDE].reshape(len(odd), -1, 3))
    od = ocore - oring
    oc = np.linalg.norm(od, axis=1)
    ou = 1.48 * _median(np.abs(odd[:, AROUND].reshape(len(odd), -1, 3) - oring[:, None]))
    oi = 1.48 * _median(np.abs(odd[:, INSIDE].reshape(len(odd), -1, 3) - ocore[:, None]))
    ospoke = _mean_rings(odd[:, AROUND])
    osense = od / np.maximum(oc, 1e-6)[:, None]
    oap = ((ocore[:, None] - ospoke) * osense[:, None]).sum(2)
    colour_c=np.linalg.norm(od[:,1:],axis=1)
    csense=od[:,1:]/np.maximum(colour_c,1e-6)[:,None]
    cap=((ocore[:,None,1:]-ospoke[:,:,1:])*csense[:,None]).sum(2)
    incore=_mean_rings(odd[:, INSIDE])
    cin=((incore[:,:,1:]-oring[:,None,1:])*csense[:,None]).sum(2)
    extra = {
     'o_light':od[:,0],'o_red':od[:,1],'o_blue':od[:,2],'o_contrast':oc,'o_colour':colour_c,
     'o_core':np.linalg.norm(ocore,axis=1),'o_corecol':np.linalg.norm(ocore[:,1:],axis=1),
     'o_unrest':np.linalg.norm(ou,axis=1),'o_inner':np.linalg.norm(oi,axis=1),
     'o_stands':oc/(0.5+np.linalg.norm(ou,axis=1)),'o_cstands':colour_c/(0.3+np.linalg.norm(ou[:,1:],axis=1)),
     'o_all':np.nan_to_num(np.quantile(np.nan_to_num(oap),0.2,axis=1)),'o_call':np.quantile(np.nan_to_num(cap),0.2,axis=1),'o_cin':np.quantile(np.nan_to_num(cin),0.2,axis=1),
     'o_absl':np.abs(od[:,0]),'o_pos_red':np.maximum(od[:,1],0),'o_pos_blue':np.maximum(od[:,2],0),'o_pos_green':np.maximum(-od[:,1],0),'o_pos_yel':np.maximum(-od[:,2],0),
     'neck_far':np.abs(neck_distance_mm(collar, work_rc)[0]-7.0),
    }
    around = lab[:, AROUND].reshape(len(lab), -1, 3)
    ring = _median(around)
    core = _mean(lab[:, INSIDE].reshape(len(lab), -1, 3))
    difference = core - ring
    contrast = np.linalg.norm(difference, axis=1)
    unrest = 1.48 * _median(np.abs(around - ring[:, None]))
    sense = difference / np.maximum(contrast, 1e-6)[:, None]
    spoke = _mean_rings(lab[:, AROUND])
    apart = ((core[:, None] - spoke) * sense[:, None]).sum(2)
    toward, across = _lit_flank(lab[:, FLANK, :, 0])
    foot = _median(lab[:, FOOT, :, 0].reshape(len(lab), -1))
    return {**extra,
        "lighter": difference[:, 0],
        "redder": difference[:, 1],
        "yellower": difference[:, 2],
        "contrast": contrast,
        "stands_out": contrast / (NOTICED + np.linalg.norm(unrest, axis=1)),
        "all_round": np.mean(np.nan_to_num(apart) > NOTICED, axis=1),
        "raised": toward,
        "askew": np.abs(across),
        "crease": ring[:, 0] - foot,
        "unrest": unrest[:, 0],
        "glare": glare.mean((1, 2)),
        "inside": clump[:, AROUND].mean((1, 2)),
        "size_mm": np.asarray(size_mm, float),
        "neck_mm": neck_distance_mm(collar, work_rc)[0],
    }


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


def _mean_rings(samples: Plane) -> Plane:
    with np.errstate(invalid="ignore"):
        counted = (~np.isnan(samples)).sum(1)
        return np.asarray(np.nansum(samples, axis=1) / counted)


def _mean(samples: Plane) -> Values:
    """Mean over axis 1 of what is inside the clump; 0 where nothing is."""
    counted = (~np.isnan(samples)).sum(1)
    return np.asarray(np.nansum(samples, axis=1) / np.maximum(counted, 1), float)


def _median(samples: Plane) -> Values:
    """Median over axis 1 of what is inside the clump; 0 where nothing is."""
    empty = np.isnan(samples).all(axis=1, keepdims=True)
    return np.asarray(np.nanmedian(np.where(empty, 0.0, samples), axis=1), float)
