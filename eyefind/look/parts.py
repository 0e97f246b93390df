"""How likely each pixel of the clump is body, crown, stem or a gap between them.

Named measures of light, tint and grain, each relative to the same clump's median, are
weighed by a small multinomial logistic model. Its weights lie in ``parts.json`` beside
this module; ``python -m eyefind.workshop fit-parts DIR`` makes them again.
"""

from functools import cache
from importlib.resources import files

import cv2
import msgspec
import numpy as np

from eyefind.data import Mask, Pixels
from eyefind.look.bench import LINEAR
from eyefind.look.frame import Frame
from eyefind.look.views import Plane

PARTS = ("gap", "body", "crown", "stem")
"""What a pixel can be; a gap is bench or deep shadow that the mask took in."""
GAP, BODY, CROWN, STEM = range(4)
HELD = 4.0
"""A measure counts at most this many of its standard deviations from its mean."""
DARK_NOISE = 0.01
"""Light, of 1, below which a colour is noise."""
GRAIN_MM = {"fine_grain": (0.3, 1.2), "coarse_grain": (0.6, 3.0)}
"""Bands of detail: between these two widths of blur."""
SMOOTH_MM = 1.0
"""Blur of the chances: single pixels do not decide."""


class PartModel(msgspec.Struct, frozen=True):
    """Weights of the logistic model.

    Attributes
    ----------
    made_from : str
        What it was fitted on.
    centre, spread : dict
        Mean and standard deviation by measure.
    weight : dict
        By measure, one weight for each of `PARTS`.
    offset : list of float
        One for each of `PARTS`.
    """

    made_from: str
    centre: dict[str, float]
    spread: dict[str, float]
    weight: dict[str, list[float]]
    offset: list[float]


@cache
def part_model() -> PartModel:
    """Read the weights that ship with the package."""
    text = files("eyefind.look").joinpath("parts.json").read_bytes()
    return msgspec.json.decode(text, type=PartModel)


def part_chances(frame: Frame) -> Plane:
    """Weigh what each pixel of a clump is.

    Parameters
    ----------
    frame : Frame
        The clump.

    Returns
    -------
    (h, w, 4) float32 array
        Chance of each of `PARTS`, summing to 1; 0 outside the clump.
    """
    model = part_model()
    total = np.tile(np.float32(model.offset), (np.count_nonzero(frame.mask), 1))
    for name, values in part_measures(frame).items():
        held = (values[frame.mask] - model.centre[name]) / model.spread[name]
        total += np.clip(held, -HELD, HELD)[:, None] * np.float32(model.weight[name])
    inside = np.exp(total - total.max(axis=1, keepdims=True))
    chances = np.zeros((*frame.mask.shape, len(PARTS)), np.float32)
    chances[frame.mask] = inside / inside.sum(axis=1, keepdims=True)
    chances = blur_in(chances, frame.mask, SMOOTH_MM * frame.px_per_mm)
    return np.where(frame.mask[..., None], chances, 0)


def part_measures(frame: Frame) -> dict[str, Plane]:
    """Measure each pixel of a clump.

    Parameters
    ----------
    frame : Frame
        The clump.

    Returns
    -------
    dict of str to (h, w) float32 array
        By name; only the values inside the clump mean anything.
    """
    mask, px_per_mm = frame.mask, frame.px_per_mm
    tints = dict(zip(("light", "red", "blue"), log_tints(frame.rgb), strict=True))
    inner = cv2.erode(mask.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    measures = {}
    for name, band in GRAIN_MM.items():
        detail = _detail(tints["light"], mask, band, px_per_mm)
        measures[name] = _grain(detail, inner, 5.0 * px_per_mm)
        if name == "fine_grain":
            measures["near_grain"] = _grain(detail, inner, 2.0 * px_per_mm)
    for tint in ("red", "blue"):
        detail = _detail(tints[tint], mask, (0.5, 3.0), px_per_mm)
        measures[f"{tint}_grain"] = _grain(detail, inner, 5.0 * px_per_mm)
    for tint, plane in tints.items():
        measures[tint] = blur_in(plane, mask, 1.0 * px_per_mm)
        measures[f"wide_{tint}"] = blur_in(plane, mask, 4.0 * px_per_mm)
    measures = {
        name: plane - np.median(plane[mask]) for name, plane in measures.items()
    }
    rows, cols = np.nonzero(mask)
    row, col = np.ogrid[: mask.shape[0], : mask.shape[1]]
    away = np.hypot(row - rows.mean(), col - cols.mean())
    measures["off_centre"] = np.float32(away / np.sqrt(len(rows) / np.pi))
    depth = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5)
    measures["depth"] = np.log1p(depth / px_per_mm)
    crowd = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 12.0 * px_per_mm)
    measures["crowd"] = np.log(crowd + 0.01)
    return measures


def log_tints(rgb: Pixels) -> tuple[Plane, Plane, Plane]:
    """Take the logarithms of brightness, red over green, blue over green.

    The latter two change little in the shade.

    Parameters
    ----------
    rgb : (h, w, 3) uint8 array
        Pixels, sRGB.

    Returns
    -------
    light, red, blue : (h, w) float32 arrays
        Natural logarithms.
    """
    bright = LINEAR[rgb] @ np.float32([0.2126, 0.7152, 0.0722])
    logs = np.log(LINEAR + DARK_NOISE)[rgb]
    return (
        np.log(bright + DARK_NOISE),
        logs[..., 0] - logs[..., 1],
        logs[..., 2] - logs[..., 1],
    )


def blur_in(plane: Plane, mask: Mask, sigma_px: float) -> Plane:
    """Blur what lies in the mask, counting nothing outside it.

    Parameters
    ----------
    plane : (h, w) or (h, w, n) float32 array
        What to blur.
    mask : (h, w) bool array
        Where it counts.
    sigma_px : float
        Standard deviation.

    Returns
    -------
    float32 array of the same shape
        Blurred.
    """
    sigma_px = max(sigma_px, 0.3)
    weight = mask.astype(np.float32)
    held = weight if plane.ndim == 2 else weight[..., None]
    total = cv2.GaussianBlur(plane * held, (0, 0), sigma_px)
    count = np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma_px), 1e-3)
    return np.asarray(total / (count if plane.ndim == 2 else count[..., None]))


def _detail(
    plane: Plane, mask: Mask, band_mm: tuple[float, float], px_per_mm: float
) -> Plane:
    fine, coarse = (blur_in(plane, mask, width * px_per_mm) for width in band_mm)
    return np.asarray((fine - coarse) ** 2)


def _grain(detail: Plane, inner: Mask, sigma_px: float) -> Plane:
    energy = np.sqrt(np.maximum(blur_in(detail, inner, sigma_px), 0))
    return np.asarray(np.log(energy + 0.01), np.float32)
