"""Lights the scene: lamp with soft shadows, sky, glints."""

import math
from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn.functional import grid_sample, interpolate, max_pool2d, normalize

from eyefind.workshop.coat import Coat
from eyefind.workshop.filters import gaussian, to_linear
from eyefind.workshop.noise import smoothstep

THIN_MM = 3.5
"""Roots up to this radius cast no shadow of a wall."""


@dataclass(frozen=True)
class Lamp:
    """A far lamp.

    Attributes
    ----------
    azimuth, elevation : float
        Where it stands in the camera frame, rad.
    colour : (float, float, float)
        Linear RGB.
    softness : float
        Half its angular size, rad.
    near : float
        How unevenly it lights: loss from the picture's middle to its far side.
    bars_mm : float
        Distance of the shadows of window bars; 0 for none.
    """

    azimuth: float
    elevation: float
    colour: tuple[float, float, float]
    softness: float
    near: float = 0.0
    bars_mm: float = 0.0

    def toward(self, device: torch.device) -> Tensor:
        """Return the unit vector towards the lamp."""
        flat = math.cos(self.elevation)
        return torch.tensor(
            [
                flat * math.cos(self.azimuth),
                flat * math.sin(self.azimuth),
                math.sin(self.elevation),
            ],
            device=device,
            dtype=torch.float32,
        )


def normals(z: Tensor, px_per_mm: float) -> Tensor:
    """Compute the unit normals of a height field.

    Parameters
    ----------
    z : (H, W) tensor
        Height, mm.
    px_per_mm : float
        Scale.

    Returns
    -------
    (H, W, 3) tensor
        x right, y down, z towards the camera.
    """
    slope_y, slope_x = torch.gradient(z, spacing=1 / px_per_mm)
    return normalize(
        torch.stack([-slope_x, -slope_y, torch.ones_like(z)], dim=-1), dim=-1
    )


def _spun(z: Tensor, azimuth: float, back: tuple[int, int] | None = None) -> Tensor:
    """Turn a picture so that light of this azimuth runs along its rows, or back."""
    height, width = back or z.shape
    side = math.ceil(math.hypot(height, width)) + 2
    out_h, out_w = (side, side) if back is None else back
    in_h, in_w = z.shape
    c, s = math.cos(azimuth), math.sin(azimuth)
    if back is not None:
        s = -s
    rows = torch.arange(out_h, device=z.device, dtype=torch.float32) - (out_h - 1) / 2
    cols = torch.arange(out_w, device=z.device, dtype=torch.float32) - (out_w - 1) / 2
    x = c * cols[None, :] - s * rows[:, None]
    y = s * cols[None, :] + c * rows[:, None]
    grid = torch.stack([x * 2 / (in_w - 1), y * 2 / (in_h - 1)], dim=-1)
    return grid_sample(
        z[None, None], grid[None], padding_mode="border", align_corners=True
    )[0, 0]


def _sunk(
    z: Tensor, cast: Tensor, px_per_mm: float, azimuth: float, tangent: float
) -> Tensor:
    """Depth of `z` below the edge of the shadow of `cast`, mm; 0 in the light."""
    turned = _spun(z, azimuth).flip(1)
    run = torch.arange(turned.shape[1], device=z.device) * (tangent / px_per_mm)
    edge = torch.cummax(_spun(cast, azimuth).flip(1) + run, dim=1).values
    depth = (edge - turned - run).clamp(min=0)
    return _spun(depth.flip(1), azimuth, (z.shape[0], z.shape[1]))


def without_thin(z: Tensor, thin: Tensor, px_per_mm: float) -> Tensor:
    """Lower thin roots to what lies around them.

    In a height field a root in the air would cast the shadow of a wall.

    Parameters
    ----------
    z : (H, W) tensor
        Height, mm.
    thin : (H, W) bool tensor
        Where roots and thin ends are.
    px_per_mm : float
        Scale.

    Returns
    -------
    (H, W) tensor
        Height to cast shadows with, mm.
    """
    size = 2 * max(1, round(THIN_MM * px_per_mm)) + 1
    half = size // 2
    sunk = max_pool2d(-z[None, None], (size, 1), 1, (half, 0))
    sunk = max_pool2d(sunk, (1, size), 1, (0, half))
    opened = max_pool2d(-sunk, (size, 1), 1, (half, 0))
    opened = max_pool2d(opened, (1, size), 1, (0, half))[0, 0]
    return torch.where(thin, torch.minimum(z, opened + 1.0), z)


def shadow(
    z: Tensor, cast: Tensor, px_per_mm: float, lamp: Lamp, samples: int = 7
) -> Tensor:
    """Share of the lamp that each place sees.

    The running maximum of height along the light's way is exact for a height field;
    several points of the lamp make the shadow soft.

    Parameters
    ----------
    z, cast : (H, W) tensors
        Height, mm; height of what casts shadows.
    px_per_mm : float
        Scale.
    lamp : Lamp
        The lamp.
    samples : int
        Points of the lamp.

    Returns
    -------
    (H, W) tensor
        0 shade to 1 light.
    """
    lit = torch.zeros_like(z)
    for number in range(samples):
        part = (number + 0.5) / samples * 2 - 1
        elevation = max(lamp.elevation + part * lamp.softness, 0.03)
        azimuth = lamp.azimuth + lamp.softness * math.sin(7.0 * number)
        depth = _sunk(z, cast, px_per_mm, azimuth, math.tan(elevation))
        lit += 1 - smoothstep(0.05, 0.6, depth)
    return lit / samples


def sky(z: Tensor, cast: Tensor, px_per_mm: float) -> Tensor:
    """Share of the sky that each place sees, weighted by height above the bench.

    Parameters
    ----------
    z, cast : (H, W) tensors
        Height, mm; height of what casts shadows.
    px_per_mm : float
        Scale.

    Returns
    -------
    (H, W) tensor
        0 to 1.
    """
    seen = torch.zeros_like(z)
    weights = 0.0
    for step in range(8):
        for elevation in (0.3, 0.65, 1.05):
            weight = math.sin(elevation)
            azimuth = step * math.pi / 4 + elevation
            depth = _sunk(z, cast, px_per_mm, azimuth, math.tan(elevation))
            seen += weight * (1 - smoothstep(0.05, 1.5, depth))
            weights += weight
    return seen / weights


def _resized(z: Tensor, shape: tuple[int, int]) -> Tensor:
    return interpolate(z[None, None], size=shape, mode="bilinear", antialias=True)[0, 0]


def _uneven(
    lamp: Lamp, shape: tuple[int, int], px_per_mm: float, device: torch.device
) -> Tensor:
    """Factor (H, W) for a lamp that stands near or shines through a window."""
    rows = torch.arange(shape[0], device=device)[:, None] - shape[0] / 2
    cols = torch.arange(shape[1], device=device)[None, :] - shape[1] / 2
    toward = cols * math.cos(lamp.azimuth) + rows * math.sin(lamp.azimuth)
    factor = (1 + lamp.near * toward / max(shape)).clamp(min=0.1)
    if lamp.bars_mm:
        turned = cols * math.cos(1.9 * lamp.azimuth) + rows * math.sin(
            1.9 * lamp.azimuth
        )
        wave = torch.cos(turned * (2 * math.pi / (lamp.bars_mm * px_per_mm)))
        factor = factor * (0.2 + 0.8 * smoothstep(-0.75, -0.45, wave))
    return factor


def shade(
    z: Tensor,
    thin: Tensor,
    coat: Coat,
    px_per_mm: float,
    lamps: list[Lamp],
    ambient: tuple[float, float, float],
) -> Tensor:
    """Light the scene.

    Parameters
    ----------
    z : (H, W) tensor
        Height, mm.
    thin : (H, W) bool tensor
        Where roots and thin ends are.
    coat : Coat
        Colour and gloss.
    px_per_mm : float
        Scale.
    lamps : list of Lamp
        The lamps.
    ambient : (float, float, float)
        Light of the room, linear RGB.

    Returns
    -------
    (H, W, 3) tensor
        Linear RGB before exposure.
    """
    shape = (z.shape[0], z.shape[1])
    facing = normals(z, px_per_mm)
    albedo = to_linear(coat.colour.clamp(0, 1))
    quarter = (max(shape[0] // 4, 8), max(shape[1] // 4, 8))
    cast = without_thin(z, thin, px_per_mm)
    open_sky = sky(
        _resized(z, quarter),
        _resized(cast, quarter),
        px_per_mm * quarter[1] / shape[1],
    )
    hollow = (gaussian(z, 1.1 * px_per_mm) - z).clamp(-0.8, 1.6)
    open_sky = _resized(open_sky, shape) * (1 - 0.3 * hollow.clamp(min=0))
    light = torch.tensor(ambient, device=z.device) * open_sky[..., None]
    glint = torch.zeros_like(albedo)
    half_size = (max(shape[0] // 2, 8), max(shape[1] // 2, 8))
    small, small_cast = _resized(z, half_size), _resized(cast, half_size)
    small_scale = px_per_mm * half_size[1] / shape[1]
    for lamp in lamps:
        toward = lamp.toward(z.device)
        lit = shadow(small, small_cast, small_scale, lamp)
        lit = gaussian(_resized(lit, shape), 0.2 * px_per_mm)
        wrap = 0.12
        fall = ((facing @ toward + wrap) / (1 + wrap)).clamp(min=0)
        colour = torch.tensor(lamp.colour, device=z.device)
        lit = lit * _uneven(lamp, shape, px_per_mm, z.device)
        light = light + (lit * fall)[..., None] * colour
        between = normalize(toward + torch.tensor([0.0, 0, 1], device=z.device), dim=0)
        mirror = (facing @ between).clamp(min=0)
        sharp = coat.gloss * 0.5 * mirror**90 + (0.02 + 0.1 * coat.gloss) * mirror**14
        glint = glint + (sharp * lit * (fall > 0))[..., None] * colour
    bounce = gaussian(albedo * light, 6 * px_per_mm) * (1 - open_sky[..., None]) * 0.5
    return albedo * (light + bounce) + glint
