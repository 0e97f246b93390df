"""The bench card, drawn to its specification (version 1), and laid on the bench.

120 x 80 mm; ArUco markers of DICT_4X4_50, ids 0 to 3, 18 mm; six grey patches; a
50 mm ruler.
"""

import cv2
import numpy as np
import torch
from numpy.typing import NDArray

from eyefind.model.network import PARTS
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Field

SIZE_MM = (120.0, 80.0)
MARKER_MM = 18.0
MARKER_CENTRES_MM = ((15, 15), (105, 15), (105, 65), (15, 65))
PATCHES = ((30, 242), (42, 200), (54, 160), (66, 120), (78, 80), (90, 45))
PATCH_MM = (10.0, 14.0)
RULER_MM = (35.0, 85.0, 58.0)
DRAWN_PX_PER_MM = 20
THICK_MM = 0.4


def drawn() -> NDArray[np.uint8]:
    """Draw the card.

    Returns
    -------
    (1600, 2400) uint8 array
        Grey sRGB values, 20 px a mm.
    """
    per_mm = DRAWN_PX_PER_MM
    card = np.full((int(80 * per_mm), int(120 * per_mm)), 250, np.uint8)
    kit = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    side = int(MARKER_MM * per_mm)
    for number, (x, y) in enumerate(MARKER_CENTRES_MM):
        marker = cv2.aruco.generateImageMarker(kit, number, side)
        top, left = int(y * per_mm) - side // 2, int(x * per_mm) - side // 2
        card[top : top + side, left : left + side] = marker
    for centre, grey in PATCHES:
        _box(card, centre - PATCH_MM[0] / 2, 40 - PATCH_MM[1] / 2, *PATCH_MM, grey)
    start, stop, down = RULER_MM
    _box(card, start, down - 0.25, stop - start, 0.5, 20)
    for tick in range(6):
        _box(card, start + 10 * tick - 0.2, down - 2.5, 0.4, 5.0, 20)
    return card


def _box(
    card: NDArray[np.uint8], x: float, y: float, wide: float, tall: float, grey: int
) -> None:
    p = DRAWN_PX_PER_MM
    card[round(y * p) : round((y + tall) * p), round(x * p) : round((x + wide) * p)] = (
        grey
    )


def lay_card(
    field: Field, coat: Coat, middle_mm: tuple[float, float], angle: float
) -> None:
    """Lay the card on the bench.

    Parameters
    ----------
    field, coat : Field, Coat
        Changed in place.
    middle_mm : (float, float)
        x and y of its middle in the camera frame.
    angle : float
        How it is turned, rad.
    """
    cam = field.camera
    slope_y, slope_x = _slope(field)
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-np.sin(angle), np.cos(angle)])
    corners = []
    for u, v in ((0, 0), (1, 0), (1, 1), (0, 1)):
        flat = (u - 0.5) * SIZE_MM[0] * along + (v - 0.5) * SIZE_MM[1] * across
        x, y = _foreshortened(flat, slope_x, slope_y) + np.array(middle_mm)
        row, col = cam.to_px(float(x), float(y))
        corners.append((col, row))
    card = drawn()
    right, bottom = card.shape[1] - 0.5, card.shape[0] - 0.5
    source = [(-0.5, -0.5), (right, -0.5), (right, bottom), (-0.5, bottom)]
    fold = cv2.getPerspectiveTransform(
        np.array(source, np.float32), np.array(corners, np.float32)
    )
    scale = DRAWN_PX_PER_MM / cam.px_per_mm
    if scale > 1.5:
        card = np.asarray(cv2.GaussianBlur(card, (0, 0), 0.4 * scale), np.uint8)
    size = (cam.width, cam.height)
    grey = cv2.warpPerspective(card, fold, size, flags=cv2.INTER_LINEAR)
    inside = cv2.warpPerspective(np.full_like(card, 255), fold, size)
    shown = torch.from_numpy(grey).to(cam.device) / 255
    cover = torch.from_numpy(inside > 127).to(cam.device) & (field.part == 0)
    white = torch.tensor([1.0, 0.995, 0.98], device=cam.device)
    coat.colour[cover] = shown[cover][:, None] * white
    coat.gloss[cover] = 0.03
    field.z[cover] = field.bench_z[cover] + THICK_MM
    field.part[cover] = PARTS.index("tool_or_card")


def _slope(field: Field) -> tuple[float, float]:
    z, per_mm = field.bench_z, field.camera.px_per_mm
    return (
        float(z[1, 0] - z[0, 0]) * per_mm,
        float(z[0, 1] - z[0, 0]) * per_mm,
    )


def _foreshortened(
    flat: NDArray[np.float64], slope_x: float, slope_y: float
) -> NDArray[np.float64]:
    """Project a step on the sloping bench into the picture's plane."""
    steep = float(np.hypot(slope_x, slope_y))
    if steep < 1e-6:
        return flat
    uphill = np.array([slope_x, slope_y]) / steep
    shorter = 1 - 1 / np.sqrt(1 + steep**2)
    return np.asarray(flat - uphill * float(flat @ uphill) * shorter)
