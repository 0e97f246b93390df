"""Sets of the first family: the clump stays, the lamp moves, the hand shakes."""

import math
from dataclasses import dataclass, replace

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor
from torch.nn.functional import grid_sample

from eyefind.workshop.light import Lamp

SIDES = (0.0, math.pi, math.pi / 2, 3 * math.pi / 2)
"""Sides from which the frames are lit, rad from the first: the opposite one is second,
so that the first two frames of four are a set of two."""
AIM_RAD = 0.2
"""Standard deviation of the side on which the lamp really stands."""
LOW_DEG = (5.0, 40.0)
"""Height of the lamp above the bench, degrees."""
SHAKE_PX = 2.0
"""How far a frame may lie off the main one, in rows and in columns."""


@dataclass(frozen=True, eq=False)
class Frame:
    """One frame of a set.

    Attributes
    ----------
    rgb : (H, W, 3) uint8 array
        The picture.
    toward : (float, float, float)
        Unit vector towards the lamp: row, col, up to the camera.
    motion_px : (float, float)
        How far everything lies from where the main frame has it: rows, columns.
    """

    rgb: NDArray[np.uint8]
    toward: tuple[float, float, float]
    motion_px: tuple[float, float]


def move_lamp(
    rng: np.random.Generator, lamp: Lamp, count: int, slope: NDArray[np.float64]
) -> list[Lamp]:
    """Place a lamp on several sides of the clump, low above the bench.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    lamp : Lamp
        The lamp, wherever it stands.
    count : int
        How many places, up to four.
    slope : (2,) array
        Height of the bench in the camera frame: ``slope[0] * x + slope[1] * y``.

    Returns
    -------
    list of Lamp
        One a frame.
    """
    placed = []
    for side in SIDES[:count]:
        azimuth = lamp.azimuth + side + float(rng.normal(0, AIM_RAD))
        rise = math.tan(math.radians(rng.uniform(*LOW_DEG)))
        # The bench rises towards the lamp by its own slope.
        rise += slope[0] * math.cos(azimuth) + slope[1] * math.sin(azimuth)
        elevation = max(math.atan(rise), math.radians(LOW_DEG[0]))
        strength = float(rng.uniform(0.8, 1.2))
        red, green, blue = (strength * part for part in lamp.colour)
        placed.append(
            replace(
                lamp,
                azimuth=azimuth,
                elevation=elevation,
                colour=(red, green, blue),
                softness=min(lamp.softness, 0.5 * elevation),
                bars_mm=0.0,
            )
        )
    return placed


def draw_shakes(rng: np.random.Generator, count: int) -> list[tuple[float, float]]:
    """Draw how far each frame lies off the main one, px; the main one does not."""
    shakes = rng.uniform(-SHAKE_PX, SHAKE_PX, (count, 2))
    shakes[0] = 0
    return [(float(row), float(col)) for row, col in shakes]


def moved(planes: Tensor, motion_px: tuple[float, float]) -> Tensor:
    """Shift planes, (H, W, C), down and right by parts of a pixel; the rim repeats."""
    if motion_px == (0.0, 0.0):
        return planes
    height, width = planes.shape[:2]
    rows = torch.arange(height, device=planes.device) - motion_px[0]
    cols = torch.arange(width, device=planes.device) - motion_px[1]
    y, x = torch.meshgrid(
        rows * 2 / (height - 1) - 1, cols * 2 / (width - 1) - 1, indexing="ij"
    )
    stack = planes.permute(2, 0, 1)[None]
    shifted = grid_sample(
        stack,
        torch.stack([x, y], dim=-1)[None].to(planes.dtype),
        mode="bicubic",
        padding_mode="border",
        align_corners=True,
    )
    return shifted[0].permute(1, 2, 0)
