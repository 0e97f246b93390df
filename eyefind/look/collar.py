"""Where an eye may sit: the crown and the collar above each neck, cut out to work on.

Eyes sit only where neck and crown join (Dahlia Society of California, December 2024);
they are buds of stem nodes, and a tuber is a root, which has none (Aoba et al., J. Jap.
Soc. Hort. Sci. 30(1):82, 1961). So nothing is looked for on a body.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Anatomy, Mask, Pixels, Points, Scale, Tuber
from eyefind.look.bench import LINEAR
from eyefind.look.outline import filled
from eyefind.look.seen import NEAR_PX_PER_MM, eyes_afar, see_frames
from eyefind.look.views import EVEN_LIGHT_MM, Plane, blur_inside, to_lab
from eyefind.model import Answers
from eyefind.reduce import reduced, reduced_mask, size_at
from eyefind.relief import in_bytes, make_relief
from eyefind.rules import Rules

WORK_PX_PER_MM = NEAR_PX_PER_MM
"""Finest scale worked at: an eye of 2 mm spans 16 px; more only costs time."""
NECK_DOUBT_MM = 3.0
"""How far the place of a neck may be off along its tuber."""
GLARE_LEVEL = 250
"""All three channels at or above it: burnt out, no colour left to judge."""
SHADE_FLOOR = 0.01
"""Added to linear light before its logarithm: below it there is only noise."""
LIGHT_AND_TINTS = np.float32([[1 / 3, 1 / 3, 1 / 3], [1, -1, 0], [0, -1, 1]])
"""Turns logarithms of red, green, blue to those of light, red and blue over green."""
CALM_MM = 0.3
"""Blur at which the spread of the crown's colours is taken."""
STEM_RIM_MM = 1.0
"""Rim of a stem's outline that may still be crown."""
ROOT_MM = 2.0
"""Thinner parts of the clump are roots; no eye stands out on its own so thinly."""
NO_CROWN_MM = 99.0
"""Stands for the distance from a crown that was not made out."""
MARGIN_MM = 8.0
"""Border kept around the place, so that the ring around an eye can be measured."""


@dataclass(frozen=True, eq=False)
class Collar:
    """Crown and collar of one clump, cut out at the working scale.

    Attributes
    ----------
    corner_rc : (2,) array
        Corner of the cut-out in the full photo, px.
    step : float
        Working px in one px of the photo.
    px_per_mm : float
        Working px in one mm.
    lab : (h, w, 3) float32 array
        CIELAB as photographed.
    even : (h, w, 3) float32 array
        CIELAB less its wide average inside the clump: only what stands out is left.
    odd : (h, w, 3) float32 array
        How unusual a pixel is on this very crown, in standard deviations: in
        lightness, in red and in blue for its lightness (`_oddness`).
    clump, allowed, glare : (h, w) bool array
        The clump; where an eye may sit; pixels burnt out to white.
    off_crown_mm : (h, w) float32 array
        Distance outside the crown's outline; `NO_CROWN_MM` where no crown was made
        out.
    necks : list of Tuber
        The tubers whose collars these are.
    whole, near : Answers or None
        What the network says of the whole photo, and of this cut-out.
    """

    corner_rc: Points
    step: float
    px_per_mm: float
    lab: Plane
    even: Plane
    odd: Plane
    clump: Mask
    allowed: Mask
    glare: Mask
    off_crown_mm: Plane
    necks: list[Tuber]
    whole: Answers | None = None
    near: Answers | None = None

    def to_photo(self, work_rc: Points) -> Points:
        """Turn (N, 2) working px into px of the full photo."""
        return (work_rc + 0.5) / self.step - 0.5 + self.corner_rc

    def to_work(self, photo_rc: Points) -> Points:
        """Turn (N, 2) px of the full photo into working px."""
        return (photo_rc - self.corner_rc + 0.5) * self.step - 0.5


def cut_out_collar(
    rgb: Pixels,
    clump: Mask,
    anatomy: Anatomy,
    scale: Scale,
    rules: Rules,
    seen: Answers | None = None,
    further: Sequence[Pixels] = (),
) -> Collar | None:
    """Cut out what an eye may sit on.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    clump : (H, W) bool array
        The clump.
    anatomy : Anatomy
        Its parts.
    scale : Scale
        Pixels per mm.
    rules : Rules
        ``collar_band_mm`` is used.
    seen : Answers, optional
        What the network says of the whole photo; then it is asked about the cut-out.
    further : sequence of (H, W, 3) uint8 array
        The other frames of a lamp set, laid on the photo.

    Returns
    -------
    Collar or None
        None when neither crown nor neck was made out.
    """
    necks = [tuber for tuber in anatomy.tubers if not _on_tuber(tuber, anatomy)]
    reach = (rules.value("collar_band_mm") + MARGIN_MM) * scale.px_per_mm
    places = [anatomy.crown_outline_px, *(t.neck_rc_px[None] for t in necks)]
    if seen is not None:
        places.append(eyes_afar(seen, clump))
    points = np.concatenate(places)
    if len(points) == 0:
        return None
    low = np.maximum(np.floor(points.min(0) - reach), 0).astype(int)
    high = np.minimum(np.ceil(points.max(0) + reach) + 1, rgb.shape[:2]).astype(int)
    if (high - low < 2).any():
        return None
    window = (slice(low[0], high[0]), slice(low[1], high[1]))
    step = min(1.0, WORK_PX_PER_MM / scale.px_per_mm)
    size = size_at((high - low).tolist(), step)
    small = reduced(rgb[window], size)
    shown = [small, *(reduced(frame[window], size) for frame in further)]
    told = None
    if further and seen is not None:
        relief = make_relief([rgb, *further], clump, scale.px_per_mm)
        told = in_bytes(relief, low, step, size)
    inside = reduced_mask(clump[window], size)
    glare = cv2.inRange(rgb[window], (GLARE_LEVEL,) * 3, (255,) * 3) > 0
    lab = to_lab(small)
    px_per_mm = scale.px_per_mm * step
    collar = Collar(
        low.astype(float),
        step,
        px_per_mm,
        lab,
        _even(lab, inside, px_per_mm),
        lab,
        inside,
        inside,
        reduced_mask(glare, size),
        lab[..., 0],
        necks,
        seen,
        None
        if seen is None
        else see_frames(shown, low.astype(float), step, px_per_mm, told),
    )
    crown = filled(collar.to_work(anatomy.crown_outline_px), inside.shape)
    off_crown_mm = np.minimum(_away(crown) / px_per_mm, NO_CROWN_MM)
    allowed = inside & _allowed(
        collar, anatomy, off_crown_mm, rules.value("collar_band_mm")
    )
    odd = _oddness(small, inside, allowed, px_per_mm)
    return replace(collar, allowed=allowed, odd=odd, off_crown_mm=off_crown_mm)


def _on_tuber(tuber: Tuber, anatomy: Anatomy) -> bool:
    return tuber.attached_to in {other.id for other in anatomy.tubers}


def _even(lab: Plane, clump: Mask, px_per_mm: float) -> Plane:
    if not clump.any():
        return np.zeros_like(lab)
    wide = blur_inside(lab, clump, EVEN_LIGHT_MM * px_per_mm)
    even = lab - wide
    # Lightness scales with the lamp, so it is divided; colour is subtracted.
    middle = np.float32(np.median(lab[..., 0][clump]))
    even[..., 0] *= middle / np.maximum(wide[..., 0], 1.0)
    return np.asarray(cv2.copyTo(even, clump.view(np.uint8)), np.float32)


def _oddness(rgb: Pixels, clump: Mask, allowed: Mask, px_per_mm: float) -> Plane:
    """Decorrelation stretch of logarithmic light, red and blue, from the crown alone.

    Shade scales all of linear R, G and B by much the same, so log R/G and log B/G
    keep to the tissue. All three are freed of their wide average and brought to unit
    spread in every direction of colour, so that what is common on this crown counts
    little and what is rare counts much.
    """
    stack = cv2.transform(cv2.LUT(rgb, np.log(SHADE_FLOOR + LINEAR)), LIGHT_AND_TINTS)
    stack -= blur_inside(stack, clump, EVEN_LIGHT_MM * px_per_mm)
    stack = cv2.copyTo(stack, clump.view(np.uint8))
    calm = cv2.GaussianBlur(stack, (0, 0), max(CALM_MM * px_per_mm, 0.3))
    known = calm[allowed] if allowed.sum() > 10 else calm.reshape(-1, 3)
    known = known - np.median(known, axis=0)
    far = np.abs(known) > 3 * 1.48 * np.median(np.abs(known), axis=0)
    spread = np.cov(known[~far.any(axis=1)].T) + 1e-6 * np.eye(3)
    values, axes = np.linalg.eigh(spread)
    turn = (axes / np.sqrt(values)) @ axes.T
    return np.asarray(cv2.transform(stack, turn.T), np.float32)


def _allowed(
    collar: Collar, anatomy: Anatomy, off_crown_mm: Plane, band_mm: float
) -> Mask:
    """Take what lies within the band of crown or neck.

    Bodies beyond their necks, stems and thin roots are left out.
    """
    shape = collar.clump.shape
    near_neck = np.zeros(shape, np.uint8)
    elsewhere = np.zeros(shape, np.uint8)
    radius = round(band_mm * collar.px_per_mm)
    for tuber in collar.necks:
        row, col = collar.to_work(tuber.neck_rc_px[None])[0]
        cv2.circle(near_neck, (round(col), round(row)), radius, 1, -1)
    for tuber in anatomy.tubers:
        _fill_body(elsewhere, collar, tuber)
    for stem in anatomy.stems:
        inside = filled(collar.to_work(stem.outline_px), shape)
        elsewhere[_away(~inside) > STEM_RIM_MM * collar.px_per_mm] = 1
    near = (off_crown_mm <= band_mm) | (near_neck > 0)
    return near & (elsewhere == 0) & _thick(collar.clump, collar.px_per_mm)


def _thick(clump: Mask, px_per_mm: float) -> Mask:
    """Leave out roots thinner than `ROOT_MM`."""
    size = 2 * max(1, round(ROOT_MM / 2 * px_per_mm)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    opened = cv2.morphologyEx(clump.astype(np.uint8), cv2.MORPH_OPEN, disc)
    return np.asarray(opened > 0)


def _fill_body(body: NDArray[np.uint8], collar: Collar, tuber: Tuber) -> None:
    """Fill the part of a tuber farther past its neck than the doubt about the neck."""
    axis = collar.to_work(tuber.axis_px)
    along = np.concatenate([[0.0], np.hypot(*np.diff(axis, axis=0).T).cumsum()])
    neck = collar.to_work(tuber.neck_rc_px[None])[0]
    past = along - along[np.argmin(np.hypot(*(axis - neck).T))]
    past -= NECK_DOUBT_MM * collar.px_per_mm
    radii = np.minimum(tuber.width_mm / 2 * collar.px_per_mm, past)
    for (row, col), radius in zip(axis[past > 0], radii[past > 0], strict=True):
        cv2.circle(body, (round(col), round(row)), round(radius), 1, -1)


def _away(mask: Mask) -> Plane:
    """Distance to the mask, px; infinite when the mask is empty."""
    if not mask.any():
        return np.full(mask.shape, np.inf, np.float32)
    return np.asarray(cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5))
