"""Blurs and colour helpers on tensors."""

import math

import torch
from torch import Tensor
from torch.nn.functional import avg_pool2d, conv2d, interpolate, pad


def gaussian(image: Tensor, sigma_px: float) -> Tensor:
    """Blur by a Gaussian; wide ones are computed on a smaller picture.

    Parameters
    ----------
    image : (H, W) or (H, W, C) tensor
        What to blur.
    sigma_px : float
        Standard deviation, px.

    Returns
    -------
    tensor
        Of the same shape.
    """
    if sigma_px < 0.15:
        return image
    stack = image[None, None] if image.dim() == 2 else image.permute(2, 0, 1)[:, None]
    shrink = max(1, int(sigma_px / 3))
    shrink = min(shrink, image.shape[0] // 4 or 1, image.shape[1] // 4 or 1)
    small = avg_pool2d(stack, shrink, ceil_mode=True) if shrink > 1 else stack
    sigma = sigma_px / shrink
    half = max(1, min(math.ceil(3 * sigma), small.shape[2] - 1, small.shape[3] - 1))
    line = torch.arange(-half, half + 1, device=image.device, dtype=torch.float32)
    kernel = torch.exp(-0.5 * (line / sigma) ** 2)
    kernel = kernel / kernel.sum()
    small = pad(small, (half, half, 0, 0), mode="reflect")
    small = conv2d(small, kernel[None, None, None, :])
    small = pad(small, (0, 0, half, half), mode="reflect")
    small = conv2d(small, kernel[None, None, :, None])
    if shrink > 1:
        small = interpolate(small, scale_factor=shrink, mode="bilinear")
        small = small[:, :, : image.shape[0], : image.shape[1]]
    return small[0, 0] if image.dim() == 2 else small[:, 0].permute(1, 2, 0)


def to_linear(srgb: Tensor) -> Tensor:
    """Undo the sRGB curve (IEC 61966-2-1)."""
    low = srgb / 12.92
    high = ((srgb.clamp(min=0) + 0.055) / 1.055) ** 2.4
    return torch.where(srgb <= 0.04045, low, high)


def to_srgb(linear: Tensor) -> Tensor:
    """Apply the sRGB curve (IEC 61966-2-1)."""
    low = linear * 12.92
    high = 1.055 * linear.clamp(min=1e-6) ** (1 / 2.4) - 0.055
    return torch.where(linear <= 0.0031308, low, high)
