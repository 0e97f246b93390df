"""What a phone makes of the light: blur, exposure, colour, noise, sharpening."""

from dataclasses import dataclass

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn.functional import avg_pool2d, interpolate

from eyefind.workshop.filters import gaussian, to_srgb

CLUMP_LEVEL = 0.46
"""Linear lightness that a good exposure gives the clump's brighter parts."""
SCENE_LEVEL = 0.24
"""Linear lightness that it gives the whole picture on average."""

HIGHLIGHT_LEVEL = 0.95
"""Linear lightness above which only 2 % of the picture come."""


@dataclass(frozen=True)
class Phone:
    """How the picture is taken.

    Attributes
    ----------
    blur_mm : float
        Standard deviation of the blur in focus.
    motion_mm, motion_way : float
        How far the hand shook, mm, and which way, rad.
    depth_blur : float
        Further blur, mm per 100 mm out of focus.
    exposure : float
        1 is right.
    gains : (float, float, float)
        White balance left wrong by these factors.
    noise : float
        Standard deviation at mid grey, of 1.
    sharpen : float
        Strength of the sharpening halo.
    lift : float
        How far dark regions are lifted, as phones do (0 to 1).
    saturation, contrast : float
        1 leaves them as they are.
    vignette : float
        Loss of light in the corners.
    quality : int
        JPEG quality.
    """

    blur_mm: float
    motion_mm: float
    motion_way: float
    depth_blur: float
    exposure: float
    gains: tuple[float, float, float]
    noise: float
    sharpen: float
    lift: float
    saturation: float
    contrast: float
    vignette: float
    quality: int


def draw_phone(rng: np.random.Generator) -> Phone:
    """Draw how a picture is taken: mostly decently, now and then badly."""
    warm = rng.normal(0, 0.07)
    shaken = rng.random() < 0.25
    return Phone(
        blur_mm=_log_uniform(rng, 0.04, 0.3),
        motion_mm=float(rng.uniform(0.2, 0.9)) if shaken else 0.0,
        motion_way=float(rng.uniform(0, np.pi)),
        depth_blur=float(rng.uniform(0, 0.6)),
        exposure=float(np.exp(rng.normal(0.0, 0.3))),
        gains=(1 + warm, float(1 + rng.normal(0, 0.03)), 1 - warm),
        noise=_log_uniform(rng, 0.003, 0.035),
        sharpen=float(rng.uniform(0.0, 1.3)),
        lift=float(rng.uniform(0.0, 0.55)),
        saturation=float(rng.uniform(0.7, 1.25)),
        contrast=float(rng.uniform(0.85, 1.2)),
        vignette=float(rng.uniform(0, 0.35)),
        quality=int(rng.integers(60, 95)),
    )


def _log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def take(
    light: Tensor,
    z: Tensor,
    clump: Tensor,
    phone: Phone,
    px_per_mm: float,
    size: tuple[int, int],
    rng: np.random.Generator,
) -> NDArray[np.uint8]:
    """Take the picture.

    Parameters
    ----------
    light : (H, W, 3) tensor
        Linear RGB.
    z : (H, W) tensor
        Height, mm, for the depth of field.
    clump : (H, W) bool tensor
        What the exposure is measured on.
    phone : Phone
        How it is taken.
    px_per_mm : float
        Scale of `light`.
    size : (int, int)
        Height and width of the picture, px.
    rng : numpy.random.Generator
        Source of noise.

    Returns
    -------
    (size[0], size[1], 3) uint8 array
        sRGB.
    """
    focus = _quantile(z[clump], 0.8)
    light = _lifted(light, phone.lift, px_per_mm)
    sharp = gaussian(light, phone.blur_mm * px_per_mm)
    if phone.depth_blur > 0:
        far = 0.35 * phone.depth_blur
        soft = gaussian(light, float(np.hypot(far, phone.blur_mm)) * px_per_mm)
        share = ((z - focus).abs() / 35).clamp(0, 1)[..., None]
        sharp = sharp * (1 - share) + soft * share
    picture = _resized(sharp, size)
    moved_px = phone.motion_mm * px_per_mm * size[1] / light.shape[1]
    picture = _shaken(picture, moved_px, phone.motion_way)
    gain = phone.exposure * _gain(sharp.mean(dim=-1), clump)
    picture = picture * gain * torch.tensor(phone.gains, device=light.device)
    picture = picture * _vignette(size, phone.vignette, light.device)[..., None]
    picture = _noisy(picture, phone.noise, rng)
    # A shoulder keeps highlights from clipping at once.
    picture = torch.where(
        picture > 0.7, 0.7 + 0.3 * torch.tanh((picture - 0.7) / 0.45), picture
    )
    grey = picture.mean(dim=-1, keepdim=True)
    picture = grey + phone.saturation * (picture - grey)
    picture = to_srgb(picture.clamp(0, 1)) ** phone.contrast
    halo = picture - gaussian(picture, 1.2)
    picture = picture + phone.sharpen * halo
    return np.asarray((picture.clamp(0, 1) * 255 + 0.5).to(torch.uint8).cpu().numpy())


def _shaken(picture: Tensor, moved_px: float, way: float) -> Tensor:
    """Blur along a line, as a shaking hand does."""
    steps = round(moved_px) + 1
    if steps < 2:
        return picture
    rows = torch.arange(picture.shape[0], device=picture.device)
    cols = torch.arange(picture.shape[1], device=picture.device)
    total = torch.zeros_like(picture)
    for shift in np.linspace(-0.5, 0.5, steps) * moved_px:
        down, right = round(shift * np.sin(way)), round(shift * np.cos(way))
        moved = picture[(rows + down).clamp(0, len(rows) - 1)]
        total += moved[:, (cols + right).clamp(0, len(cols) - 1)]
    return total / steps


def _gain(luma: Tensor, clump: Tensor) -> float:
    """Factor that exposes clump and scene well and saves the highlights."""
    bright = _quantile(luma[clump], 0.8) / CLUMP_LEVEL
    mean = float(luma.mean()) / SCENE_LEVEL
    wanted = 1 / max(float((bright**2 * mean) ** (1 / 3)), 1e-4)
    return min(wanted, HIGHLIGHT_LEVEL / max(_quantile(luma.reshape(-1), 0.98), 1e-4))


def _quantile(values: Tensor, share: float) -> float:
    """Quantile of a sample: torch refuses long tensors."""
    return float(values[:: max(1, values.numel() // 100_000)].quantile(share))


def _lifted(light: Tensor, strength: float, px_per_mm: float) -> Tensor:
    """Brighten dark regions and darken bright ones, keeping the fine contrast."""
    luma = light.mean(dim=-1)
    around = gaussian(luma, 12 * px_per_mm) * 0.6 + 0.4 * gaussian(luma, 3 * px_per_mm)
    middle = luma.mean()
    gain = ((middle + 0.02) / (around + 0.02)) ** strength
    return light * gain.clamp(0.4, 4.0)[..., None]


def _resized(picture: Tensor, size: tuple[int, int]) -> Tensor:
    if (picture.shape[0], picture.shape[1]) == size:
        return picture
    stack = picture.permute(2, 0, 1)[None]
    if picture.shape[0] == 2 * size[0] and picture.shape[1] == 2 * size[1]:
        small = avg_pool2d(stack, 2)
    else:
        small = interpolate(stack, size=size, mode="bilinear", antialias=True)
    return small[0].permute(1, 2, 0)


def _vignette(size: tuple[int, int], loss: float, device: torch.device) -> Tensor:
    y = torch.linspace(-1, 1, size[0], device=device)[:, None]
    x = torch.linspace(-1, 1, size[1], device=device)[None, :]
    return 1 - loss * (x * x + y * y) / 2


def _noisy(picture: Tensor, strength: float, rng: np.random.Generator) -> Tensor:
    """Add shot noise, a little of it coarse in colour as denoising leaves it."""
    seed = int(rng.integers(2**31))
    source = torch.Generator().manual_seed(seed)
    height, width = picture.shape[0], picture.shape[1]
    grey = torch.randn((height, width, 1), generator=source).to(picture.device)
    blotch = torch.randn((height, width, 3), generator=source).to(picture.device)
    blotch = gaussian(blotch, 1.5) * 3.0
    grey = gaussian(grey[..., 0], 0.5)[..., None] * 1.6
    amount = strength * (picture.clamp(min=0) * 0.8 + 0.03).sqrt()
    return picture + amount * (grey + 0.6 * blotch)
