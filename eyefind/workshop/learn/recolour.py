"""Changes colours and sharpness of crops, so that no light is taken for granted.

Everything happens on the device and never moves a pixel.
"""

import torch
from torch import Tensor
from torch.nn import functional

from eyefind.model.network import STRIDE
from eyefind.workshop.learn.crops import Batch

BENCH = 0


def recolour(batch: Batch) -> Tensor:
    """Return the batch's pixels, changed at random; (N, 3, S, S), 0 to 1."""
    rgb = _other_bench(batch) ** 2.2
    count = len(rgb)
    device = rgb.device

    def normal(spread: float, *shape: int) -> Tensor:
        return torch.randn(count, *shape, device=device) * spread

    light = torch.exp(normal(0.35, 1, 1, 1) + normal(0.10, 3, 1, 1))
    rgb = rgb * light * _uneven(count, rgb.shape[-1], 0.25, device)
    grey = rgb.mean(dim=1, keepdim=True)
    rgb = grey + (rgb - grey) * torch.exp(normal(0.25, 1, 1, 1))
    mix = torch.eye(3, device=device) + normal(0.06, 3, 3)
    rgb = torch.einsum("nij,njhw->nihw", mix, rgb).clamp(1e-4, None)
    rgb = rgb ** (torch.exp(normal(0.18, 1, 1, 1)) / 2.2)
    rgb = _sharpness(rgb)
    noise = torch.rand(count, 1, 1, 1, device=device) ** 2 * 0.05
    return (rgb + torch.randn_like(rgb) * noise).clamp(0, 1)


def _uneven(count: int, size: int, spread: float, device: torch.device) -> Tensor:
    """Smooth field around 1."""
    coarse = torch.randn(count, 1, 4, 4, device=device) * spread
    coarse = coarse * torch.rand(count, 1, 1, 1, device=device)
    fine = functional.interpolate(coarse, size=size, mode="bicubic")
    return torch.exp(fine)


def _other_bench(batch: Batch) -> Tensor:
    """Lay some clumps on the pixels of another crop, or on random stripes and dots."""
    rgb = batch.rgb
    bench = (batch.part <= BENCH).float()[:, None]
    bench = functional.interpolate(bench, scale_factor=STRIDE, mode="bilinear")
    count, _, size, _ = rgb.shape
    chance = torch.rand(count, 1, 1, 1, device=rgb.device)
    other = rgb.roll(1, dims=0).roll(size // 2, dims=2).mean(dim=1, keepdim=True)
    tint = torch.rand(count, 3, 1, 1, device=rgb.device) * 1.4
    pattern = torch.zeros_like(rgb)
    for cells in (4, 16, 64, 160):
        wide = torch.rand(count, 3, cells, max(cells // 6, 2), device=rgb.device)
        pattern += functional.interpolate(wide, size=size, mode="bicubic")
    stand_in = torch.where(chance < 0.15, pattern / 4, other * tint).clamp(0, 1)
    mixed = rgb * (1 - bench) + stand_in * bench
    return torch.where(chance < 0.30, mixed, rgb)


def _sharpness(rgb: Tensor) -> Tensor:
    """Blur or sharpen each crop a little."""
    line = torch.arange(-4, 5, device=rgb.device, dtype=torch.float32)
    width = torch.rand(len(rgb), device=rgb.device) * 1.6 + 0.3
    bell = torch.exp(-(line[None] ** 2) / (2 * width[:, None] ** 2))
    bell = bell / bell.sum(dim=1, keepdim=True)
    flat = rgb.reshape(1, -1, *rgb.shape[2:])
    groups = flat.shape[1]
    kernel = bell.repeat_interleave(3, dim=0)[:, None]
    blurred = functional.conv2d(flat, kernel[..., None], padding=(4, 0), groups=groups)
    blurred = functional.conv2d(
        blurred, kernel[:, :, None], padding=(0, 4), groups=groups
    )
    blurred = blurred.reshape(rgb.shape)
    share = torch.rand(len(rgb), 1, 1, 1, device=rgb.device) * 1.8 - 0.9
    share = torch.where(share.abs() < 0.3, torch.zeros_like(share), share)
    return (rgb + share * (blurred - rgb)).clamp(0, 1)
