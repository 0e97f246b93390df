"""Stamps marks into surface and colour: eyes, knobs, scars, pits, soft patches."""

from dataclasses import dataclass, replace

import numpy as np
import torch
from torch import Tensor

from eyefind.model.network import PARTS
from eyefind.workshop.anatomy import Mark
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Field
from eyefind.workshop.light import normals
from eyefind.workshop.noise import Noise, smoothstep
from eyefind.workshop.pose import Posed

DEPTH_MM = 3.5
"""How far the true surface may lie from where a mark was put."""


@dataclass(frozen=True, eq=False)
class SeenEye:
    """An eye as the field shows it, in px of the field.

    Attributes
    ----------
    mark : Mark
        The eye.
    row, col : float
        Its middle.
    share : float
        Share of its base that the camera sees.
    index : int
        Its value in the eye buffer.
    """

    mark: Mark
    row: float
    col: float
    share: float
    index: int


def stamp(
    field: Field, posed: Posed, coat: Coat, noise: Noise
) -> tuple[list[SeenEye], Tensor]:
    """Stamp all marks of a clump; look-alikes first, eyes last.

    Parameters
    ----------
    field, coat : Field, Coat
        Changed in place.
    posed : Posed
        The clump in the camera frame.
    noise : Noise
        Frays the outlines.

    Returns
    -------
    seen : list of SeenEye
        Every eye of which the camera sees something.
    eyes : (H, W) int tensor
        Index of the eye at each pixel, 0 for none.
    """
    base = field.z.clone()
    facing = normals(base, field.camera.px_per_mm)
    eyes = torch.zeros_like(field.part)
    seen = []
    marks = sorted(posed.clump.marks, key=lambda mark: mark.kind == "eye")
    for index, mark in enumerate(marks, start=1):
        if mark.normal[2] < -0.2:
            continue
        box = _window(field, mark)
        if box[0].start >= box[0].stop or box[1].start >= box[1].stop:
            continue
        away, rise, near = _around(field, posed, mark, base, box)
        if mark.kind == "eye":
            eye = _see(field, mark, index, box, away, rise, near, facing)
            if eye is None:
                continue
            seen.append(eye)
            eyes[box] = torch.where(near & (away < 1), index, eyes[box])
        _press(field, coat, mark, box, away, near, facing, noise)
    return seen, eyes


def uncovered(field: Field, seen: list[SeenEye], eyes: Tensor) -> list[SeenEye]:
    """Lower the visible shares where things have been laid over eyes since.

    Parameters
    ----------
    field : Field
        With everything in it.
    seen : list of SeenEye
        As stamped.
    eyes : (H, W) int tensor
        Index of the eye at each pixel; set to 0 in place where it is covered.

    Returns
    -------
    list of SeenEye
        Those still to be seen.
    """
    most = max((eye.index for eye in seen), default=0) + 1
    before = torch.bincount(eyes.reshape(-1), minlength=most)
    eyes[field.part == PARTS.index("tool_or_card")] = 0
    after = torch.bincount(eyes.reshape(-1), minlength=most)
    left = (after / before.clamp(min=1)).tolist()
    return [
        replace(eye, share=eye.share * left[eye.index])
        for eye in seen
        if left[eye.index]
    ]


def _window(field: Field, mark: Mark) -> tuple[slice, slice]:
    reach = 1.7 * mark.radius + DEPTH_MM
    x, y = float(mark.place[0]), float(mark.place[1])
    return field.window(x - reach, x + reach, y - reach, y + reach)


def _around(
    field: Field, posed: Posed, mark: Mark, base: Tensor, box: tuple[slice, slice]
) -> tuple[Tensor, Tensor, Tensor]:
    """Distance from a mark's axis over its radius, height along it, what counts."""
    dx = field.x_mm[box[1]][None, :] - float(mark.place[0])
    dy = field.y_mm[box[0]][:, None] - float(mark.place[1])
    dz = base[box] - float(mark.place[2])
    nx, ny, nz = (float(v) for v in mark.normal)
    rise = dx * nx + dy * ny + dz * nz
    away = (dx * dx + dy * dy + dz * dz - rise * rise).clamp(min=0).sqrt()
    above = 12.0 if mark.sprout else DEPTH_MM + mark.radius
    near = (rise > -DEPTH_MM - mark.radius) & (rise < above)
    if mark.on == "crown":
        part = field.part[box]
        near &= (part == PARTS.index("crown")) | (part == PARTS.index("neck"))
        # Old stems count as crown, but nothing grows on them.
        old = [tube.kind == "old_stem" for tube in posed.clump.tubes] + [False, False]
        near &= ~torch.tensor(old, device=part.device)[field.tube[box].long()]
    else:
        names = [tube.id for tube in posed.clump.tubes]
        near &= field.tube[box] == names.index(mark.on)
    return away / mark.radius, rise, near


def _see(
    field: Field,
    mark: Mark,
    index: int,
    box: tuple[slice, slice],
    away: Tensor,
    rise: Tensor,
    near: Tensor,
    facing: Tensor,
) -> SeenEye | None:
    inside = near & (away < 1)
    if not bool(inside.any()):
        return None
    n = torch.tensor(mark.normal, dtype=torch.float32, device=away.device)
    toward = (facing[box] @ n).clamp(min=0) / facing[box][..., 2].clamp(min=0.15)
    pixel = 1 / field.camera.px_per_mm**2
    area = float((toward * inside).sum()) * pixel
    share = min(area / (np.pi * mark.radius**2), 1.0)
    core = rise[inside & (away < 0.7)] if bool((inside & (away < 0.7)).any()) else None
    height = float((rise[inside] if core is None else core).median())
    middle = mark.place + mark.normal * height
    row, col = field.camera.to_px(float(middle[0]), float(middle[1]))
    r, c = round(row) - box[0].start, round(col) - box[1].start
    held = 0 <= r < inside.shape[0] and 0 <= c < inside.shape[1] and inside[r, c]
    if not held:
        spot = int(torch.where(inside, away, torch.full_like(away, 9)).argmin())
        row = float(box[0].start + spot // inside.shape[1])
        col = float(box[1].start + spot % inside.shape[1])
    return SeenEye(mark, row, col, share, index)


def _press(
    field: Field,
    coat: Coat,
    mark: Mark,
    box: tuple[slice, slice],
    away: Tensor,
    near: Tensor,
    facing: Tensor,
    noise: Noise,
) -> None:
    """Change surface, colour and gloss where the mark is."""
    tex = field.tex[box]
    fine = noise.at(tex * (2.2 / mark.radius) + mark.radius)
    frayed = {"eye": 0.06, "bump": 0.06, "knob": 0.15, "soft": 0.2, "clod": 0.3}.get(
        mark.kind, 0.4
    )
    away = away * (1 + frayed * fine)
    shape, cover = _profile(mark, away, fine)
    steep = facing[box][..., 2].clamp(min=0.4)
    field.z[box] += torch.where(near, mark.height * shape / steep, 0.0)
    tint = torch.tensor(mark.colour, dtype=torch.float32, device=away.device)
    cover = (cover * mark.tint * near)[..., None]
    shade = tint * (1 + 0.12 * fine[..., None])
    coat.colour[box] = coat.colour[box] * (1 - cover) + shade * cover
    if mark.ring:
        halo = torch.exp(-(((away - 1.2) / 0.2) ** 2)) * near
        coat.colour[box] = coat.colour[box] * (1 - 0.45 * mark.ring * halo)[..., None]
    if mark.kind == "drop":
        coat.gloss[box] = torch.maximum(coat.gloss[box], near * (away < 1) * 1.0)
    if mark.kind == "soft":
        coat.gloss[box] = torch.maximum(coat.gloss[box], 0.8 * cover[..., 0])
        patch = near & (away < 1) & (field.part[box] == PARTS.index("body"))
        field.part[box] = torch.where(patch, PARTS.index("soft"), field.part[box])


def _profile(mark: Mark, away: Tensor, fine: Tensor) -> tuple[Tensor, Tensor]:
    """Height and cover of a mark by distance from its middle, both 0 to 1."""
    inside = (1 - away * away).clamp(min=0)
    edge = 1 - smoothstep(0.75, 1.05, away)
    groove = torch.exp(-(((away - 1.15) / 0.16) ** 2))
    if mark.kind in ("eye", "bump"):
        scales = 0.18 * mark.ring * torch.cos(11 * away) * (away < 1)
        shape = inside**0.8 + scales - (0.22 + 0.3 * mark.ring) * groove
        return shape, edge * (0.55 + 0.45 * inside)
    if mark.kind == "knob":
        return inside**1.1 - 0.1 * groove, edge
    if mark.kind == "scar":
        ring = torch.exp(-(((away - 0.8) / 0.22) ** 2))
        return ring - 0.9 * inside, edge * (0.4 + 0.6 * inside)
    if mark.kind == "clod":
        return inside**0.6 * (1 + 0.5 * fine), edge
    if mark.kind == "soft":
        return inside * (1 + 0.4 * fine), 1 - smoothstep(0.8, 1.15, away)
    return inside**0.5, edge
