"""Eyes: candidates on crown and collar, and what can be measured of each.

A candidate is where a blob filter answers: the Laplacian of Gaussian over several
sizes, on lightness, on red against green and on yellow against blue, either sign.
Where the network was asked, the peaks of its heat map take their place. Each
candidate is then looked at on rings around its middle, from which come measures that a
person would name; `eyefind.look.likelihood` weighs them.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Points
from eyefind.look.candidates import Candidates, Values
from eyefind.look.collar import Collar
from eyefind.look.eye_measures import measure_eyes, neck_distance_mm
from eyefind.look.heat import heat_peaks, opinions
from eyefind.look.likelihood import likelihood
from eyefind.look.views import Plane

DETECT_PX_PER_MM = 4.0
"""Scale of the blob filters: the smallest has a standard deviation of 2 px."""
SIGMAS_MM = (0.45, 0.65, 0.95, 1.4, 2.0)
"""Blob sizes: eyes of 1.3 to 5.7 mm (a disc answers best at diameter / 2.83)."""
LEAST_ANSWER = 0.2
"""Weaker answers, in standard deviations of the crown, are noise."""
MOST_A_CHANNEL = 150
"""Strongest answers kept of each channel and sign."""
APART_MM = 2.5
"""Two flags are never nearer to each other than this."""


def find_eyes(collar: Collar, lamp_deg: float) -> tuple[Candidates, Values]:
    """Find what may be an eye and weigh it.

    Parameters
    ----------
    collar : Collar
        Crown and collar.
    lamp_deg : float
        Where the lamp stands (`eyefind.look.views.lamp_direction`).

    Returns
    -------
    candidates : Candidates
        No two nearer than `APART_MM`, the likeliest first.
    likelihood : (N,) array
        Falling.
    """
    found = eye_candidates(collar, lamp_deg)
    chance = likelihood("eye", found.measures)
    kept = apart(found.place_rc, chance, collar.px_per_mm / collar.step)
    return found.pick(kept), chance[kept]


def eye_candidates(collar: Collar, lamp_deg: float) -> Candidates:
    """Find blobs of an eye's size where an eye may sit, and measure them.

    Parameters
    ----------
    collar : Collar
        Crown and collar.
    lamp_deg : float
        Where the lamp stands.

    Returns
    -------
    Candidates
        Measures as in `measure_eyes`; several of other sizes at one place.
    """
    if collar.near is None:
        work_rc, size_mm = _blobs(collar)
    else:
        work_rc, size_mm = heat_peaks(collar, collar.near)
    _, nearest = neck_distance_mm(collar, work_rc)
    owners = [collar.necks[i].id if i >= 0 else None for i in nearest]
    measures = measure_eyes(collar, work_rc, size_mm, lamp_deg)
    if collar.near is not None and collar.whole is not None:
        measures |= opinions(collar, collar.near, collar.whole, work_rc)
    return Candidates(
        "eye",
        collar.to_photo(work_rc),
        size_mm,
        owners,
        [None] * len(work_rc),
        measures,
    )


def apart(place_rc: Points, chance: Values, px_per_mm: float) -> NDArray[np.intp]:
    """Take the likeliest first and drop whatever is nearer than `APART_MM` to it.

    Parameters
    ----------
    place_rc : (N, 2) array
        Places, px.
    chance : (N,) array
        Their likelihoods, or anything that rises with them.
    px_per_mm : float
        Scale of the places.

    Returns
    -------
    (M,) int array
        Index of those kept, the likeliest first.
    """
    kept: list[int] = []
    for index in np.argsort(-chance, kind="stable"):
        far = np.hypot(*(place_rc[kept] - place_rc[index]).T)
        if not (far < APART_MM * px_per_mm).any():
            kept.append(int(index))
    return np.array(kept, np.intp)


def _blobs(collar: Collar) -> tuple[Points, Values]:
    """Places (working px) and diameters (mm) of blobs in any channel, either sign."""
    step = min(1.0, DETECT_PX_PER_MM / collar.px_per_mm)
    size = [max(1, round(side * step)) for side in collar.clump.shape[::-1]]
    even = cv2.resize(_filled_out(collar), size, interpolation=cv2.INTER_AREA)
    allowed = cv2.resize(
        collar.allowed.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST
    )
    places, sizes = [], []
    for channel in range(3):
        stack = _blob_answers(even[..., channel], collar.px_per_mm * step)
        for sign in (1.0, -1.0):
            found = _peaks(sign * stack, allowed > 0, collar.px_per_mm * step)
            places.append((found[:, 1:] + 0.5) / step - 0.5)
            sizes.append(np.array(SIGMAS_MM)[found[:, 0]] * 2 * np.sqrt(2))
    return np.concatenate(places), np.concatenate(sizes)


def _filled_out(collar: Collar) -> Plane:
    """Carry the clump's rim outwards, so that the outline itself gives no answer."""
    weight = collar.clump.astype(np.float32)
    sigma = 1.5 * collar.px_per_mm
    total = cv2.GaussianBlur(collar.odd * weight[..., None], (0, 0), sigma)
    count = cv2.GaussianBlur(weight, (0, 0), sigma)[..., None]
    around = total / np.maximum(count, 1e-3)
    return np.where(collar.clump[..., None], collar.odd, around)


def _blob_answers(plane: Plane, px_per_mm: float) -> Plane:
    """Minus the scale-normalised Laplacian of Gaussian; positive on light blobs."""
    layers = []
    for sigma_mm in SIGMAS_MM:
        sigma = max(sigma_mm * px_per_mm, 0.5)
        blurred = cv2.GaussianBlur(plane, (0, 0), sigma)
        layers.append(-(sigma**2) * cv2.Laplacian(blurred, cv2.CV_32F))
    return np.asarray(np.stack(layers), np.float32)


def _peaks(stack: Plane, allowed: Mask, px_per_mm: float) -> NDArray[np.intp]:
    """Strongest local maxima over place and size, (N, 3) of size index, row, col."""
    reach = 2 * max(1, round(0.5 * px_per_mm)) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    around = np.stack([cv2.dilate(layer, kernel) for layer in stack])
    beside = around.copy()
    beside[1:] = np.maximum(beside[1:], around[:-1])
    beside[:-1] = np.maximum(beside[:-1], around[1:])
    peak = (stack >= beside) & (stack >= LEAST_ANSWER) & allowed
    found = np.argwhere(peak)
    strongest = np.argsort(-stack[peak], kind="stable")[:MOST_A_CHANNEL]
    return found[strongest]
