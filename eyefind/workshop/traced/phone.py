"""What a phone makes of the light: exposure, tone, noise, its removal, sharpening."""

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from eyefind.workshop.traced.noise3 import Floats

Rgb = NDArray[np.uint8]


@dataclass(frozen=True)
class Phone:
    """How a phone develops a picture.

    Attributes
    ----------
    gains : (3,) array
        White balance left over.
    aim : float
        Brightness that the middle tones are brought to.
    bend, noise, smooth, halo : float
        Contrast of the tone curve, sensor noise, its removal, sharpening.
    quality : int
        Of the JPEG.
    """

    gains: Floats
    aim: float
    bend: float
    noise: float
    smooth: float
    halo: float
    quality: int


def draw_phone(rng: np.random.Generator) -> Phone:
    """Draw a phone and its settings."""
    warm = rng.normal(0, 0.07)
    return Phone(
        np.array([1 + warm, 1 + rng.normal(0, 0.02), 1 - warm]),
        rng.uniform(0.13, 0.24),
        rng.uniform(0.1, 0.5),
        rng.uniform(0.004, 0.02),
        rng.uniform(2, 6),
        rng.uniform(0.2, 0.9),
        int(rng.integers(80, 94)),
    )


def develop(
    light: Floats, clump: NDArray[np.bool_], phone: Phone, rng: np.random.Generator
) -> tuple[bytes, Rgb]:
    """Make a JPEG of what fell on the sensor.

    Parameters
    ----------
    light : (H, W, 3) array
        Linear RGB.
    clump : (H, W) bool array
        Where the phone was told to measure.
    phone : Phone
        How it develops.
    rng : numpy.random.Generator
        Noise.

    Returns
    -------
    data : bytes
        The file.
    pixels : (H, W, 3) uint8 array
        What it holds.
    """
    measured = light[clump] if clump.any() else light.reshape(-1, 3)
    # The phone's own white balance goes part of the way to grey.
    mean = light.reshape(-1, 3).mean(axis=0)
    cast = (mean.mean() / np.maximum(mean, 1e-6)) ** 0.35
    level = phone.aim / max(float(np.mean(measured @ [0.21, 0.72, 0.07])), 1e-6)
    image = light * cast * phone.gains * level
    row, col = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    size = np.hypot(*light.shape[:2]) / 2
    away = np.hypot(row - light.shape[0] / 2, col - light.shape[1] / 2) / size
    image = image * (1 - 0.22 * away**2)[..., None]
    grain = rng.normal(0, 1, image.shape) * np.sqrt(np.maximum(image, 0) * 0.12 + 4e-4)
    image = np.clip(image + phone.noise * 2.2 * grain, 0, None)
    image = _tone(image, phone.bend)
    code = np.clip(image * 255 + 0.5, 0, 255).astype(np.uint8)
    calm = cv2.fastNlMeansDenoisingColored(
        code, None, phone.smooth, 1.6 * phone.smooth, 3, 9
    )
    soft = np.asarray(calm, np.float32)
    sharp = soft + phone.halo * (soft - cv2.GaussianBlur(soft, (0, 0), 1.1))
    sharp += 0.25 * phone.halo * (soft - cv2.GaussianBlur(soft, (0, 0), 3.0))
    final = np.clip(sharp + rng.normal(0, 0.8, sharp.shape), 0, 255).astype(np.uint8)
    file = io.BytesIO()
    Image.fromarray(final).save(file, "JPEG", quality=phone.quality)
    return file.getvalue(), np.asarray(Image.open(file).convert("RGB"))


def _tone(linear: Floats, bend: float) -> Floats:
    """Roll highlights off, encode as sRGB does, and bend into an S."""
    rolled = np.where(linear < 0.6, linear, 0.6 + 0.4 * np.tanh((linear - 0.6) / 0.55))
    curve = np.where(
        rolled <= 0.0031308,
        12.92 * rolled,
        1.055 * np.maximum(rolled, 1e-9) ** (1 / 2.4) - 0.055,
    )
    curve = np.clip(curve, 0, 1)
    return np.asarray(curve + bend * curve * (1 - curve) * (2 * curve - 1))
