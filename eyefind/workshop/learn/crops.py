"""Cuts turned, scaled and recoloured crops with their targets, on the device."""

from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional

from eyefind.workshop.learn.pictures import MOST_INSTANCES, WITH_TUBER, Picture

STRIDE = 4
"""Picture px per px of the network's answer."""
SCALE_PX_PER_MM = (2.5, 9.5)
"""Scales trained at: the whole clump near 4, the crown near 8."""
MOST_REDUCED = 1.5
"""Reduced further than this, single px would be left out: px are averaged before."""
MOST_BEYOND = 1.4
"""No crop is wider than this many times the picture's shorter edge."""
MOST_ENLARGED = 1.6
"""A render is never enlarged further than this."""
NECK_MM = 4.0
"""Size of the bell around a neck."""
OFFSET_MM = 30.0
"""Unit of the offsets to a tuber's middle."""


@dataclass(frozen=True)
class Batch:
    """Crops and what the network should answer; N crops of S px.

    Attributes
    ----------
    rgb : (N, 3, S, S) float tensor
        0 to 1.
    part : (N, S/4, S/4) int64 tensor
        Index into PARTS; -1 outside the picture.
    eye, neck : (N, S/4, S/4) float tensors
        1 on the pixel of an eye or neck, falling off around it.
    eye_size : (N, S/4, S/4) float tensor
        log2 of the nearest eye's diameter in crop px; meaningful where `eye` > 0.5.
    offset : (N, 2, S/4, S/4) float tensor
        Row and column to the middle of the pixel's tuber, `OFFSET_MM`.
    on_tuber : (N, S/4, S/4) bool tensor
        Where `offset` means something.
    """

    rgb: Tensor
    part: Tensor
    eye: Tensor
    neck: Tensor
    eye_size: Tensor
    offset: Tensor
    on_tuber: Tensor


class Cropper:
    """Draws batches of crops from pictures.

    Parameters
    ----------
    pictures : list of Picture
        All on one device.
    size_px : int
        Edge of a crop.
    seed : int
        Of the random numbers.
    """

    def __init__(self, pictures: list[Picture], size_px: int, seed: int):
        self.pictures = pictures
        self.size_px = size_px
        self.device = pictures[0].rgb.device
        self.random = torch.Generator().manual_seed(seed)

    def batch(self, count: int) -> Batch:
        """Draw `count` crops."""
        crops = [self._crop() for _ in range(count)]
        columns = [torch.stack(column) for column in zip(*crops, strict=True)]
        return Batch(*columns)

    def _draw(self, low: float, high: float) -> float:
        return float(torch.rand((), generator=self.random)) * (high - low) + low

    def _crop(self) -> tuple[Tensor, ...]:
        pick = int(self._draw(0, len(self.pictures)))
        picture = self.pictures[min(pick, len(self.pictures) - 1)]
        low, high = SCALE_PX_PER_MM
        across_mm = min(picture.rgb.shape[1:]) / picture.px_per_mm
        low = max(low, self.size_px / (MOST_BEYOND * across_mm))
        high = max(low, min(high, MOST_ENLARGED * picture.px_per_mm))
        scale = low * (high / low) ** self._draw(0, 1)
        turn = self._turn(picture.px_per_mm / scale)
        view = _View(turn, self._middle(picture), self.size_px, scale)
        pixels = picture.rgb.float() / 255
        if picture.px_per_mm > MOST_REDUCED * scale:
            pixels = functional.avg_pool2d(pixels, 2)
        rgb = _sample(pixels, view, "bilinear", "reflection")
        return rgb, *_targets(picture, view)

    def _turn(self, step: float) -> Tensor:
        """2 x 2 matrix from crop px to picture px, both (row, col)."""
        angle = torch.tensor(self._draw(0, 2 * torch.pi))
        cos, sin = torch.cos(angle), torch.sin(angle)
        flip = 1.0 if self._draw(0, 1) < 0.5 else -1.0
        turn = torch.stack([torch.stack([cos, -sin]), torch.stack([sin, cos])])
        return step * turn * torch.tensor([1.0, flip])

    def _middle(self, picture: Picture) -> Tensor:
        """Middle of the crop: mostly near an eye, else anywhere, px of the picture."""
        shake = torch.randn(2, generator=self.random) * 25 * picture.px_per_mm
        height, width = picture.rgb.shape[1:]
        points = torch.cat([picture.eyes[:, :2], picture.necks])
        if len(points) and self._draw(0, 1) < 0.75:
            return points[int(self._draw(0, len(points) - 1e-6))] + shake
        return torch.tensor([self._draw(0, height), self._draw(0, width)])


@dataclass(frozen=True)
class _View:
    """How a crop lies in its picture: picture rc = turn (crop rc - half) + middle."""

    turn: Tensor
    middle: Tensor
    size_px: int
    px_per_mm: float

    def to_answer(self, rc: Tensor) -> Tensor:
        """Turn (N, 2) px of the picture into px of the network's answer."""
        back = torch.linalg.inv(self.turn).T
        crop = (rc - self.middle) @ back + (self.size_px - 1) / 2
        return torch.as_tensor((crop + 0.5) / STRIDE - 0.5)


def _sample(
    image: Tensor, view: _View, mode: str, outside: str, every: int = 1
) -> Tensor:
    """Sample an image (C, H, W) on the crop's grid."""
    side = view.size_px // every
    # From the unit square of the crop to that of the picture, both (x, y).
    half_rc = torch.tensor(image.shape[1:]) / 2
    turn = view.turn * view.size_px / 2 / half_rc[:, None]
    shift = (view.middle + 0.5) / half_rc - 1
    theta = torch.cat([turn.flip(0, 1), shift.flip(0)[:, None]], dim=1)
    grid = functional.affine_grid(
        theta[None].to(image.device), [1, 1, side, side], align_corners=False
    )
    return functional.grid_sample(
        image[None], grid, mode=mode, padding_mode=outside, align_corners=False
    )[0]


def _targets(picture: Picture, view: _View) -> tuple[Tensor, ...]:
    shifted = picture.label.float() + 1
    label = _sample(shifted, view, "nearest", "zeros", STRIDE)[0].round() - 1
    part = torch.where(label >= 0, (label / 100).floor().long(), -1)
    device, side = label.device, len(label)
    eye_rc = view.to_answer(picture.eyes[:, :2])
    eye_px = picture.eyes[:, 2] * view.px_per_mm / picture.px_per_mm
    eye, eye_size = _heat(eye_rc, eye_px / STRIDE, torch.log2(eye_px), side, device)
    neck_rc = view.to_answer(picture.necks)
    neck_px = torch.full((len(neck_rc),), NECK_MM * view.px_per_mm / STRIDE)
    neck, _ = _heat(neck_rc, neck_px, neck_px, side, device)
    return part, eye, neck, eye_size, *_offsets(picture, view, label, part)


def _heat(
    place_rc: Tensor, size: Tensor, value: Tensor, side: int, device: torch.device
) -> tuple[Tensor, Tensor]:
    """Bell around each place, 1 on its pixel; and `value` of the nearest place."""
    inside = ((place_rc > -2) & (place_rc < side + 1)).all(dim=1)
    if not inside.any():
        empty = torch.zeros(side, side, device=device)
        return empty, empty
    middle = place_rc[inside].round().to(device)[..., None, None]
    sigma = (0.22 * size[inside]).clamp(0.8, 4.0).to(device)[:, None, None]
    line = torch.arange(side, device=device)
    far = (line[None, :, None] - middle[:, 0]) ** 2
    far = far + (line[None, None, :] - middle[:, 1]) ** 2
    strongest, which = torch.exp(-far / (2 * sigma**2)).max(dim=0)
    return strongest, value[inside].to(device)[which]


def _offsets(
    picture: Picture, view: _View, label: Tensor, part: Tensor
) -> tuple[Tensor, Tensor]:
    """Offsets to the middle of each pixel's tuber, and where they mean something."""
    instance = (label % 100).long().clamp(0, MOST_INSTANCES - 1)
    middles = view.to_answer(picture.middles_rc).to(label.device)
    line = torch.arange(len(label), device=label.device, dtype=torch.float32)
    here = torch.stack(torch.meshgrid(line, line, indexing="ij"))
    there = middles[instance].permute(2, 0, 1)
    tuber_parts = torch.tensor(WITH_TUBER, device=label.device)
    on_tuber = torch.isin(part, tuber_parts) & (instance > 0)
    return (there - here) * STRIDE / view.px_per_mm / OFFSET_MM, on_tuber
