"""Views for people: the same photo, with one thing made easier to see.

Every view takes the photo and the clump's mask, takes its statistics from inside the
mask only, and leaves the picture outside the mask as it is. None of them is meant for
the finder: what helps an eye (stretched contrast) adds false alarms to a detector.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Mask, Pixels
from eyefind.reduce import reduced, reduced_mask, size_at

Plane = NDArray[np.float32]
"""(H, W) float32 array."""

EVEN_LIGHT_MM = 12.0
"""Standard deviation of what counts as the lamp's own fall-off."""
TILE_MM = 25.0
"""Side of the tiles in which contrast is equalised: about one tuber's width."""
CLIP_LIMIT = 3.0
"""Limit of the contrast gain in a tile, as a multiple of a flat histogram."""
STRETCHED_SD = 45.0
"""Standard deviation of each channel after the colour stretch, of 255."""
RELIEF_MM = 0.8
"""Standard deviation of the relief filter: an eye of 3 mm answers best."""
RIM_SHARE = 0.5
"""Outer share of the silhouette's half width that shows which side is lit."""


def even_light(rgb: Pixels, mask: Mask, px_per_mm: float) -> Pixels:
    """Take the lamp's fall-off away, keep colour and detail.

    Lightness is divided by its own average over `EVEN_LIGHT_MM` inside the mask and
    brought back to the clump's median.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    mask : (H, W) bool array
        The clump.
    px_per_mm : float
        Scale.

    Returns
    -------
    (H, W, 3) uint8 array
        The view.
    """
    if not mask.any():
        return rgb.copy()
    lab = to_lab(rgb)
    light = np.maximum(lab[..., 0], 1.0)
    lamp = blur_inside(light, mask, EVEN_LIGHT_MM * px_per_mm)
    lab[..., 0] = np.clip(light / lamp * np.median(light[mask]), 0, 100)
    return _inside(_to_rgb(lab), rgb, mask)


def local_contrast(rgb: Pixels, mask: Mask, px_per_mm: float) -> Pixels:
    """Raise the contrast of lightness tile by tile (CLAHE).

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    mask : (H, W) bool array
        The clump. The bench is filled with the clump's median lightness first, so
        that tiles at the rim do not adapt to it.
    px_per_mm : float
        Scale; a tile is `TILE_MM` wide.

    Returns
    -------
    (H, W, 3) uint8 array
        The view.
    """
    if not mask.any():
        return rgb.copy()
    lab = cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB)
    light = lab[..., 0].copy()
    light[~mask] = np.uint8(np.median(light[mask]))
    tiles = [max(1, round(side / (TILE_MM * px_per_mm))) for side in mask.shape]
    lab[..., 0] = cv2.createCLAHE(CLIP_LIMIT, (tiles[1], tiles[0])).apply(light)
    return _inside(cv2.cvtColor(lab, cv2.COLOR_LAB2RGB), rgb, mask)


def colour_stretch(rgb: Pixels, mask: Mask, px_per_mm: float) -> Pixels:
    """Spread the clump's own colours as far apart as they go (decorrelation stretch).

    The colours inside the mask are turned to their principal axes, brought to equal
    spread and turned back, so pink tips and a dark parent stand out from brown skin.
    Method: Gillespie, Kahle, Walker, Remote Sensing of Environment 20:209 (1986),
    from memory.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    mask : (H, W) bool array
        The clump.
    px_per_mm : float
        Scale; noise finer than half a millimetre is averaged away first, since the
        stretch would raise it as well.

    Returns
    -------
    (H, W, 3) uint8 array
        The view.
    """
    if mask.sum() < 2:
        return rgb.copy()
    calm = cv2.GaussianBlur(rgb, (0, 0), max(0.25 * px_per_mm, 0.3))
    colours = rgb[mask].astype(np.float32)
    mean = colours.mean(axis=0)
    spread, axes = np.linalg.eigh(np.cov(colours, rowvar=False))
    gain = STRETCHED_SD / np.sqrt(np.maximum(spread, 1.0))
    turn = ((axes * gain) @ axes.T).astype(np.float32)
    out = rgb.copy()
    out[mask] = np.clip((calm[mask] - mean) @ turn + 127.5, 0, 255).astype(np.uint8)
    return out


def relief(
    rgb: Pixels, mask: Mask, px_per_mm: float, lamp_deg: float | None = None
) -> Pixels:
    """Show bumps and pits as grey relief.

    The flank that faces the lamp is light and the far one dark, so across a bump
    lightness rises towards the lamp and across a pit it falls. That rise, filtered to
    the size of an eye, is what is shown: bumps light, pits dark, and a flat stain only
    as a weak pair of both.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    mask : (H, W) bool array
        The clump.
    px_per_mm : float
        Scale.
    lamp_deg : float, optional
        Direction in the picture from which the lamp shines: 0 from the right, 90 from
        the top. Without it `lamp_direction` is asked.

    Returns
    -------
    (H, W, 3) uint8 array
        The view.
    """
    if not mask.any():
        return rgb.copy()
    if lamp_deg is None:
        lamp_deg = lamp_direction(rgb, mask, px_per_mm)
    light = np.log(np.maximum(to_lab(rgb)[..., 0], 1.0))
    light -= blur_inside(light, mask, EVEN_LIGHT_MM * px_per_mm)
    light[~mask] = 0
    light = cv2.GaussianBlur(light, (0, 0), max(RELIEF_MM * px_per_mm, 0.3))
    across = cv2.Scharr(light, cv2.CV_32F, 1, 0)
    down = cv2.Scharr(light, cv2.CV_32F, 0, 1)
    angle = np.deg2rad(lamp_deg)
    rise = across * np.cos(angle) - down * np.sin(angle)
    inner = cv2.erode(mask.astype(np.uint8), _disc(2 * RELIEF_MM * px_per_mm)) > 0
    spread = float(np.std(rise[inner])) if inner.any() else 0.0
    grey = np.clip(127.5 + rise / max(spread, 1e-6) * 40.0, 0, 255).astype(np.uint8)
    return _inside(np.repeat(grey[..., None], 3, axis=2), rgb, mask)


def lamp_direction(rgb: Pixels, mask: Mask, px_per_mm: float) -> float:
    """Estimate from the clump itself where the lamp stands in the picture.

    Near the rim of a rounded body the outward direction of the outline is the
    direction that the surface faces, and the lit rim is the lighter one (Lambert): the
    lightness of the rim is fitted by a plane over that direction.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.
    mask : (H, W) bool array
        The clump.
    px_per_mm : float
        Scale; the fit is made at about 1 px/mm.

    Returns
    -------
    float
        Degrees, -180 to 180: 0 from the right, 90 from the top. 90 when nothing can
        be told.
    """
    step = min(1.0, 1.0 / px_per_mm)
    size = size_at(mask.shape, step)
    small = reduced(rgb, size)
    inside = reduced_mask(mask, size).view(np.uint8)
    depth = cv2.distanceTransform(np.pad(inside, 1), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    depth = cv2.GaussianBlur(depth, (0, 0), 2.0)
    outward_right = -cv2.Scharr(depth, cv2.CV_32F, 1, 0)[1:-1, 1:-1]
    outward_up = cv2.Scharr(depth, cv2.CV_32F, 0, 1)[1:-1, 1:-1]
    length = np.hypot(outward_right, outward_up)
    rim = (inside > 0) & (length > 0) & (depth[1:-1, 1:-1] < RIM_SHARE * depth.max())
    if rim.sum() < 8:
        return 90.0
    unit = np.stack([outward_right[rim], outward_up[rim]], axis=1) / length[rim, None]
    light = to_lab(small)[..., 0][rim]
    design = np.column_stack([unit, np.ones(len(unit))])
    (right, up, _), *_ = np.linalg.lstsq(design, light, rcond=None)
    if np.hypot(right, up) < 1e-3:
        return 90.0
    return float(np.rad2deg(np.arctan2(up, right)))


def blur_inside(plane: Plane, mask: Mask, sigma_px: float) -> Plane:
    """Average `plane` over a wide Gaussian, counting only what lies in the mask.

    Parameters
    ----------
    plane : (H, W) or (H, W, n) float32 array
        What to average.
    mask : (H, W) bool array
        Where it counts.
    sigma_px : float
        Standard deviation. Done on a picture reduced so that it spans about 4 px.

    Returns
    -------
    (H, W) or (H, W, n) float32 array
        The averages; outside the mask they fade into the global one.
    """
    step = min(1.0, 4.0 / sigma_px)
    size = size_at(mask.shape, step)
    here = cv2.copyTo(plane, mask.view(np.uint8))
    total, count = reduced(here, size), reduced(mask.astype(np.float32), size)
    sigma = max(sigma_px * step, 0.3)
    total = cv2.GaussianBlur(total, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    count = cv2.GaussianBlur(count, (0, 0), sigma, borderType=cv2.BORDER_CONSTANT)
    overall = total.mean((0, 1)) / max(count.mean(), 1e-9)
    faint = np.float32(1e-3)
    count = count.reshape(*size, *[1] * (plane.ndim - 2))
    average = (total + faint * overall) / (count + faint)
    return np.asarray(cv2.resize(average, mask.shape[::-1]), np.float32)


def to_lab(rgb: Pixels) -> Plane:
    """Turn sRGB into CIELAB (D65); cv2 does it 40 times faster than skimage.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 array
        The photo.

    Returns
    -------
    (H, W, 3) float32 array
        L* 0 to 100, a*, b*.
    """
    return np.asarray(
        cv2.cvtColor(rgb * np.float32(1 / 255), cv2.COLOR_RGB2LAB), np.float32
    )


def _to_rgb(lab: Plane) -> Pixels:
    rgb = cv2.cvtColor(lab, cv2.COLOR_LAB2RGB)
    return np.asarray(np.clip(rgb * 255.0 + 0.5, 0, 255), np.uint8)


def _inside(view: Pixels, rgb: Pixels, mask: Mask) -> Pixels:
    return np.where(mask[..., None], view, rgb)


def _disc(radius_px: float) -> NDArray[np.uint8]:
    size = 2 * max(1, round(radius_px)) + 1
    return np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8
    )
