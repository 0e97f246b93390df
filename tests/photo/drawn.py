"""Cards drawn into a picture by a camera that is known exactly."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eyefind.data import Pixels
from eyefind.photo.card_layout import CARD_MM, card_image

Floats = NDArray[np.float64]
TEXTURE_PX_PER_MM = 24.0


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
    curve = np.where(
        value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055
    )
    return np.rint(curve * 255).astype(np.uint8)


def draw_card(
    camera: Camera,
    blur_px: float | tuple[float, float] = 0.0,
    light: tuple[float, float, float] = (0.85, 0.85, 0.85),
    bench: float = 0.12,
    noise: float = 0.004,
    seed: int = 0,
) -> Pixels:
    """Photograph the card: drawn at three times the size, blurred in linear light.

    `blur_px` is the sigma in px of the photo, along x and along y.
    """
    fine = 3
    rng = np.random.default_rng(seed)
    height, width = camera.shape
    texture = to_linear(card_image(TEXTURE_PX_PER_MM)).astype(np.float32)
    corners_mm = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * np.array(CARD_MM)
    source = (corners_mm * TEXTURE_PX_PER_MM - 0.5).astype(np.float32)
    target = ((camera.project(corners_mm) + 0.5) * fine - 0.5).astype(np.float32)
    drawn = cv2.warpPerspective(
        texture,
        cv2.getPerspectiveTransform(source, target),
        (width * fine, height * fine),
        flags=cv2.INTER_AREA,
        borderValue=-1.0,
        borderMode=cv2.BORDER_CONSTANT,
    )
    grain = cv2.resize(
        rng.normal(0, 0.25, (height // 8, width // 8)).astype(np.float32),
        (width * fine, height * fine),
    )
    drawn = np.where(drawn < 0, bench * (1 + grain), drawn)
    along_x, along_y = (blur_px, blur_px) if np.isscalar(blur_px) else blur_px
    if along_x or along_y:
        drawn = cv2.GaussianBlur(
            drawn, (0, 0), max(along_x * fine, 1e-3), sigmaY=max(along_y * fine, 1e-3)
        )
    photo = cv2.resize(drawn, (width, height), interpolation=cv2.INTER_AREA)
    rgb = photo[..., None] * np.array(light) + rng.normal(0, noise, (height, width, 1))
    return to_srgb(rgb)
