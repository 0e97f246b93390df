"""Cuts turned, scaled and recoloured crops with their targets, on the device."""

from dataclasses import dataclass

import torch
from torch import Tensor
from torch.nn import functional

from eyefind.model.network import OFFSET_MM, STRIDE
from eyefind.workshop.learn.pictures import MOST_INSTANCES, WITH_TUBER, Pictures

SCALE_PX_PER_MM = (2.0, 9.5)
"""Scales trained at: the whole clump near 3, the crown near 8."""
MOST_REDUCED = 1.5
"""Reduced further than this, single px would be left out: px are averaged before."""
MOST_BEYOND = 1.4
"""No crop is wider than this many times the picture's shorter edge."""
MOST_ENLARGED = 1.6
"""A render is never enlarged further than this."""
NEAR_SHARE, SHAKE_MM = 0.75, 25.0
"""Share of crops around an eye or neck, and how far their middles stray."""
LEFT_OUT = 0.5
"""Share of crops without their relief, so that one photo alone goes on working."""
NECK_MM = 4.0
"""Size of the bell around a neck."""


@dataclass(frozen=True)
class Batch:
    """Crops and what the network should answer; N crops of S px.

    Attributes
    ----------
    rgb : (N, 3, S, S) float tensor
        0 to 1.
    relief : (N, 2, S, S) float tensor
        The last two of `INPUTS`.
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
    relief: Tensor
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
    pictures : Pictures
        To draw from.
    size_px : int
        Edge of a crop.
    seed : int
        Of the random numbers.
    """

    def __init__(self, pictures: Pictures, size_px: int, seed: int):
        self.pictures = pictures
        self.size_px = size_px
        self.device = pictures.rgb[0].device
        self.random = torch.Generator().manual_seed(seed)

    def batch(self, count: int) -> Batch:
        """Draw `count` crops."""
        which = torch.randint(len(self.pictures), (count,), generator=self.random)
        view = self._view(which)
        rgb = self._pixels(view)
        shifted = _stacked(self.pictures.label, view, beyond=-1) + 1
        label = self._sample(shifted, view, "nearest", STRIDE)[:, 0].round() - 1
        part = torch.where(label >= 0, (label / 100).floor().long(), -1)
        eye_rc, eye_px = self._eyes(view)
        eye, eye_size = self._heat(eye_rc, eye_px / STRIDE, torch.log2(eye_px))
        neck_rc = view.to_answer(self.pictures.necks[which])
        bell = (NECK_MM * view.px_per_mm / STRIDE)[:, None].expand(neck_rc.shape[:2])
        neck, _ = self._heat(neck_rc, bell, bell)
        offsets = self._offsets(view, label, part)
        relief = self._relief(view)
        return Batch(rgb, relief, part, eye, neck, eye_size, *offsets)

    def _draw(self, *shape: int) -> Tensor:
        return torch.rand(shape, generator=self.random)

    def _view(self, which: Tensor) -> "_View":
        pictures, count = self.pictures, len(which)
        scale = pictures.px_per_mm[which]
        across_mm = pictures.size_px[which].amin(dim=1) / scale
        low = (self.size_px / (MOST_BEYOND * across_mm)).clamp(min=SCALE_PX_PER_MM[0])
        high = (MOST_ENLARGED * scale).clamp(max=SCALE_PX_PER_MM[1]).maximum(low)
        drawn = low * (high / low) ** self._draw(count)
        angle = 2 * torch.pi * self._draw(count)
        cos, sin = torch.cos(angle), torch.sin(angle)
        turn = torch.stack([cos, -sin, sin, cos], dim=1).reshape(-1, 2, 2)
        flip = torch.where(self._draw(count) < 0.5, 1.0, -1.0)
        turn[:, :, 1] *= flip[:, None]
        turn = turn * (scale / drawn)[:, None, None]
        extent = (pictures.size_px[which].amax(dim=0) / 2).ceil() * 2
        return _View(which, turn, self._middles(which), self.size_px, drawn, extent)

    def _middles(self, which: Tensor) -> Tensor:
        """Middles of crops: mostly near an eye or neck, else anywhere; px."""
        pictures, count = self.pictures, len(which)
        middle = self._draw(count, 2) * pictures.size_px[which]
        shake = torch.randn(count, 2, generator=self.random) * SHAKE_MM
        shake = shake * pictures.px_per_mm[which, None]
        points = torch.cat([pictures.eyes[which, :, :2], pictures.necks[which]], dim=1)
        known = (~points[..., 0].isnan()).float()
        pick = torch.multinomial(known + 1e-9, 1, generator=self.random)
        near = points.gather(1, pick[..., None].expand(-1, -1, 2))[:, 0] + shake
        chosen = (self._draw(count) < NEAR_SHARE) & (known.sum(dim=1) > 0)
        return torch.where(chosen[:, None], near, middle)

    def _pixels(self, view: "_View") -> Tensor:
        stored = _stacked(self.pictures.rgb, view, beyond=None)
        whole = self._sample(stored, view, "bilinear")
        half = self._sample(functional.avg_pool2d(stored, 2), view, "bilinear")
        reduced = self.pictures.px_per_mm[view.which] > MOST_REDUCED * view.px_per_mm
        return (
            torch.where(reduced.to(self.device)[:, None, None, None], half, whole) / 255
        )

    def _relief(self, view: "_View") -> Tensor:
        """Relief and where it is known; of some crops left out altogether."""
        stored = _stacked(self.pictures.relief, view, beyond=0)
        relief = self._sample(stored, view, "nearest") / 255
        keep = (self._draw(len(view.which)) >= LEFT_OUT).to(self.device)
        relief = relief * keep[:, None, None, None]
        return torch.cat([relief, (relief > 0).float()], dim=1)

    def _sample(
        self, images: Tensor, view: "_View", mode: str, every: int = 1
    ) -> Tensor:
        """Sample images (N, C, H, W) on the crops' grids."""
        side = view.size_px // every
        # From the unit square of the crop to that of the picture, both (x, y).
        half_rc = view.extent / 2
        turn = view.turn * view.size_px / 2 / half_rc[:, None]
        shift = (view.middle + 0.5) / half_rc - 1
        theta = torch.cat([turn.flip(1, 2), shift.flip(1)[..., None]], dim=2)
        grid = functional.affine_grid(
            theta.to(self.device), [len(theta), 1, side, side], align_corners=False
        )
        outside = "zeros" if mode == "nearest" else "reflection"
        return functional.grid_sample(
            images, grid, mode=mode, padding_mode=outside, align_corners=False
        )

    def _eyes(self, view: "_View") -> tuple[Tensor, Tensor]:
        """Places in px of the answer, diameters in px of the crop."""
        eyes = self.pictures.eyes[view.which]
        larger = view.px_per_mm / self.pictures.px_per_mm[view.which]
        return view.to_answer(eyes[..., :2]), eyes[..., 2] * larger[:, None]

    def _heat(self, rc: Tensor, size: Tensor, value: Tensor) -> tuple[Tensor, Tensor]:
        """Bell around each place, 1 on its pixel; and `value` of the nearest place."""
        side = self.size_px // STRIDE
        middle = rc.round().to(self.device)[..., None, None]
        sigma = (0.22 * size).clamp(0.8, 4.0).to(self.device)[..., None, None]
        line = torch.arange(side, device=self.device)
        far = (line[:, None] - middle[:, :, 0]) ** 2 + (line - middle[:, :, 1]) ** 2
        bells = torch.exp(-far / (2 * sigma**2)).nan_to_num(0.0)
        strongest, which = bells.max(dim=1)
        values = value.to(self.device)
        flat = values.gather(1, which.flatten(1)).reshape(which.shape)
        return strongest, flat.nan_to_num(0.0)

    def _offsets(
        self, view: "_View", label: Tensor, part: Tensor
    ) -> tuple[Tensor, Tensor]:
        """Offsets to each pixel's tuber's middle, and where they mean something."""
        instance = (label % 100).long().clamp(0, MOST_INSTANCES - 1)
        middles = view.to_answer(self.pictures.middles_rc[view.which]).to(self.device)
        line = torch.arange(label.shape[-1], device=self.device, dtype=torch.float32)
        here = torch.stack(torch.meshgrid(line, line, indexing="ij"))
        at = instance.flatten(1)[..., None].expand(-1, -1, 2)
        there = middles.gather(1, at).transpose(1, 2).reshape(-1, 2, *label.shape[1:])
        tuber_parts = torch.tensor(WITH_TUBER, device=self.device)
        on_tuber = torch.isin(part, tuber_parts) & (instance > 0)
        unit_px = (view.px_per_mm * OFFSET_MM / STRIDE).to(self.device)
        return (there - here) / unit_px[:, None, None, None], on_tuber


@dataclass(frozen=True)
class _View:
    """How crops lie in their pictures: picture rc = turn (crop rc - half) + middle."""

    which: Tensor
    turn: Tensor
    middle: Tensor
    size_px: int
    px_per_mm: Tensor
    extent: Tensor
    """Rows and columns, both even, that hold every picture of the batch."""

    def to_answer(self, rc: Tensor) -> Tensor:
        """Turn (N, K, 2) px of the pictures into px of the network's answers."""
        back = torch.linalg.inv(self.turn).transpose(1, 2)
        crop = (rc - self.middle[:, None]) @ back + (self.size_px - 1) / 2
        return torch.as_tensor((crop + 0.5) / STRIDE - 0.5)


def _stacked(images: list[Tensor], view: _View, beyond: float | None) -> Tensor:
    """Stack the images of a batch, filled up with `beyond` or as at their edges."""
    rows, cols = (int(side) for side in view.extent)
    mode, value = ("replicate", None) if beyond is None else ("constant", beyond)
    return torch.stack(
        [
            functional.pad(
                one.float(),
                (0, cols - one.shape[2], 0, rows - one.shape[1]),
                mode,
                value,
            )
            for one in (images[index] for index in view.which)
        ]
    )
