"""Cards drawn into a picture by a camera that is known exactly."""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Pixels
from eyefind.photo.card_layout import CARD_MM, card_image

Floats = NDArray[np.float64]
TEXTURE_PX_PER_MM = 24.0
FINE = 3


@dataclass(frozen=True)
class Camera:
    """A pinhole camera over the bench, and how the card is turned before it.

    `tilt_deg` turns the card's plane against the picture's about the axis at
    `about_deg`; `turn_deg` turns it within its plane; its middle lies at
    (`x_mm`, `y_mm`) from the optical axis.
    """

    focal_px: float = 1200.0
    shape: tuple[int, int] = (1200, 1600)
    distance_mm: float = 200.0
    tilt_deg: float = 0.0
    about_deg: float = 0.0
    turn_deg: float = 0.0
    x_mm: float = 0.0
    y_mm: float = 0.0

    @property
    def matrix(self) -> Floats:
        height, width = self.shape
        return np.array(
            [
                (self.focal_px, 0, (width - 1) / 2),
                (0, self.focal_px, (height - 1) / 2),
                (0, 0, 1),
            ]
        )

    @property
    def pose(self) -> tuple[Floats, Floats]:
        """Rotation and translation of the card's middle in the camera's frame."""
        axis = np.radians(self.about_deg)
        tilt, _ = cv2.Rodrigues(
            np.radians(self.tilt_deg) * np.array([np.cos(axis), np.sin(axis), 0.0])
        )
        turn, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.radians(self.turn_deg)]))
        return tilt @ turn, np.array([self.x_mm, self.y_mm, self.distance_mm])

    def project(self, card_mm: Floats, height_mm: float = 0.0) -> Floats:
        """Project card (x, y) mm, `height_mm` towards the camera, to (x, y) px."""
        middle = np.array(CARD_MM) / 2
        solid = np.column_stack(
            [card_mm - middle, np.full(len(card_mm), -height_mm)]
        ).astype(float)
        turn, shift = self.pose
        points, _ = cv2.projectPoints(
            solid, cv2.Rodrigues(turn)[0], shift, self.matrix, None
        )
        return points[:, 0]


def to_linear(srgb: NDArray) -> Floats:
    value = np.asarray(srgb, float) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def to_srgb(linear: Floats) -> Pixels:
    value = np.clip(linear, 0, 1)
    steps = (value * 4095).round().astype(np.uint16)
    return _ENCODED[steps]


_STEPS = np.arange(4096) / 4095
_ENCODED = np.rint(
    255
    * np.where(_STEPS <= 0.0031308, _STEPS * 12.92, 1.055 * _STEPS ** (1 / 2.4) - 0.055)
).astype(np.uint8)


def draw_card(
    camera: Camera,
    blur_px: float | tuple[float, float] = 0.0,
    light: tuple[float, float, float] = (0.85, 0.85, 0.85),
    bench: float = 0.12,
    noise: float = 0.004,
    seed: int = 0,
) -> Pixels:
    """Photograph the card: drawn at three times the size, blurred in linear light.

    `blur_px` is the sigma in px of the photo, along x and along y; `light` and `bench`
    are linear light of a white card and of the bench around it.
    """
    along_x, along_y = np.broadcast_to(blur_px, 2)
    height, width = camera.shape
    corners_mm = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * np.array(CARD_MM)
    corners_px = camera.project(corners_mm)
    margin = int(5 * max(along_x, along_y)) + 4
    left, top = np.maximum(corners_px.min(axis=0).astype(int) - margin, 0)
    right, bottom = np.minimum(
        corners_px.max(axis=0).astype(int) + margin, (width, height)
    )
    source = (corners_mm * TEXTURE_PX_PER_MM - 0.5).astype(np.float32)
    target = ((corners_px - (left, top) + 0.5) * FINE - 0.5).astype(np.float32)
    drawn = cv2.warpPerspective(
        _texture(),
        cv2.getPerspectiveTransform(source, target),
        (int(right - left) * FINE, int(bottom - top) * FINE),
        flags=cv2.INTER_AREA,
        borderValue=bench,
        borderMode=cv2.BORDER_CONSTANT,
    )
    if along_x or along_y:
        sigmas = np.maximum((along_x * FINE, along_y * FINE), 1e-3)
        drawn = cv2.GaussianBlur(drawn, (0, 0), sigmas[0], sigmaY=sigmas[1])
    photo = np.full((height, width), bench, np.float32)
    photo[top:bottom, left:right] = cv2.resize(
        drawn, (int(right - left), int(bottom - top)), interpolation=cv2.INTER_AREA
    )
    grain = np.random.default_rng(seed).normal(0, noise, (height, width))
    return to_srgb((photo + grain)[..., None] * np.array(light))


@cache
def _texture() -> NDArray[np.float32]:
    return to_linear(card_image(TEXTURE_PX_PER_MM)).astype(np.float32)
