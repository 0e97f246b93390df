"""What lies about: labels, string, roots, small hardware; tools are in `tools`."""

import cv2
import numpy as np
import torch
from numpy.typing import NDArray

from eyefind.model.network import PARTS
from eyefind.workshop.anatomy import Tube, Vector
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Field, put_tube
from eyefind.workshop.tools import (
    BRASS,
    STEEL,
    brush,
    hand,
    knife_handle,
    placed,
    snips,
    tool,
)
from eyefind.workshop.writing import written

LABELS = ((0.9, 0.9, 0.86), (0.85, 0.75, 0.3), (0.55, 0.75, 0.55), (0.80, 0.55, 0.55))
EDGE_MM = 12.0
"""Things may lie this far outside the picture."""


def strew(
    rng: np.random.Generator, field: Field, coat: Coat, first: int, around: Vector
) -> None:
    """Strew some things over the bench.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    field, coat : Field, Coat
        Changed in place.
    first : int
        Index from which the tubes of things are numbered.
    around : (4,) array
        Box of the picture in mm: low x, high x, low y, high y.
    """
    number = first
    box = around + EDGE_MM * np.array([-1, 1, -1, 1])
    for _ in range(int(rng.choice(6, p=[0.15, 0.25, 0.25, 0.15, 0.12, 0.08]))):
        spot = np.array([rng.uniform(*box[:2]), rng.uniform(*box[2:])])
        angle = float(rng.uniform(0, 2 * np.pi))
        kind = str(rng.choice([*_FLAT, *_ROUND]))
        if kind in _FLAT:
            _FLAT[kind](rng, field, coat, spot, angle)
        if kind == "hand":
            spot, angle = _from_edge(rng, around)
        if kind in _ROUND:
            for tube in placed(_ROUND[kind](rng), spot, angle):
                tube.points[:, 2] += _bench_height(field, tube.points)
                _lay_tube(field, coat, tube, number)
                number += 1


def _from_edge(rng: np.random.Generator, around: Vector) -> tuple[Vector, float]:
    """Draw a place on the picture's edge and the way inwards."""
    middle = np.array([around[0] + around[1], around[2] + around[3]]) / 2
    angle = float(rng.uniform(0, 2 * np.pi))
    way = np.array([np.cos(angle), np.sin(angle)])
    reach = np.array([around[1] - around[0], around[3] - around[2]]) / 2
    spot = middle - way * float((reach / np.maximum(np.abs(way), 1e-3)).min())
    return spot, angle + float(rng.normal(0, 0.4))


def _bench_height(field: Field, points: Vector) -> Vector:
    z, cam = field.bench_z, field.camera
    rise_x = float(z[0, 1] - z[0, 0]) * cam.px_per_mm
    rise_y = float(z[1, 0] - z[0, 0]) * cam.px_per_mm
    return np.asarray(points[:, 0] * rise_x + points[:, 1] * rise_y)


def _lay_tube(field: Field, coat: Coat, tube: Tube, number: int) -> None:
    put_tube(field, tube, number, 0)
    mine = field.tube == number
    coat.colour[mine] = torch.tensor(tube.colour, dtype=torch.float32).to(mine.device)
    coat.gloss[mine] = tube.wet


def _label(
    rng: np.random.Generator, field: Field, coat: Coat, spot: Vector, angle: float
) -> None:
    """Lay a plant label with writing on it."""
    long, wide = rng.uniform(50, 120), rng.uniform(10, 30)
    shape = [(-0.5, -0.5), (0.4, -0.5), (0.5, 0), (0.4, 0.5), (-0.5, 0.5)]
    colour = np.array(LABELS[rng.integers(len(LABELS))]) * rng.uniform(0.75, 1.05)
    cover = _plate(field, coat, _at(shape, long, wide, spot, angle), colour, 0.4)
    middle = spot - 0.1 * long * np.array([np.cos(angle), np.sin(angle)])
    ink = written(rng, field.camera, middle, angle, wide * rng.uniform(0.3, 0.6))
    coat.colour[cover & torch.from_numpy(ink).to(cover.device)] = 0.12


def _knife(
    rng: np.random.Generator, field: Field, coat: Coat, spot: Vector, angle: float
) -> None:
    """Lay a knife's blade; handle and rivets are discs and plates too."""
    long, wide = rng.uniform(70, 150), rng.uniform(14, 32)
    shape = [(0.0, -0.5), (0.75, -0.5), (1.0, 0.4), (0.95, 0.5), (0.0, 0.5)]
    steel = STEEL * rng.uniform(0.6, 1.25)
    _plate(field, coat, _at(shape, long, wide, spot, angle), steel, 0.9)
    handle, grip = knife_handle(rng, wide)
    back = [(-1.0, -0.5), (0.0, -0.42), (0.0, 0.42), (-1.0, 0.55)]
    _plate(field, coat, _at(back, handle, wide * 0.9, spot, angle), grip, 0.3, 8.0)
    for share in np.linspace(0.15, 0.85, int(rng.integers(0, 4))):
        ring = np.linspace(0, 2 * np.pi, 12)
        disc = [(np.cos(t), np.sin(t)) for t in ring]
        way = np.array([np.cos(angle), np.sin(angle)])
        metal = BRASS if rng.random() < 0.5 else STEEL
        middle = spot - share * handle * way
        size = rng.uniform(1.5, 3.5)
        _plate(field, coat, _at(disc, size, size, middle, angle), metal, 0.9, 8.8)


def _at(
    shape: list[tuple[float, float]],
    long: float,
    wide: float,
    spot: Vector,
    angle: float,
) -> list[Vector]:
    """Scale, turn and shift an outline."""
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-along[1], along[0]])
    return [spot + u * long * along + v * wide * across for u, v in shape]


def _plate(
    field: Field,
    coat: Coat,
    corners: list[Vector],
    colour: Vector,
    gloss: float,
    height_mm: float = 1.0,
) -> torch.Tensor:
    """Lay a flat thing on the bench, under the clump; returns where it shows."""
    low = (field.part == 0) | (field.part == PARTS.index("tool_or_card"))
    cover = torch.from_numpy(_polygon(field, corners) > 0).to(field.z.device) & low
    tint = torch.tensor(np.clip(colour, 0, 1), dtype=torch.float32)
    coat.colour[cover] = tint.to(field.z.device)
    coat.gloss[cover] = gloss
    field.z[cover] = field.bench_z[cover] + height_mm
    field.part[cover] = PARTS.index("tool_or_card")
    return cover


def _polygon(field: Field, corners: list[Vector]) -> NDArray[np.uint8]:
    mask = np.zeros((field.camera.height, field.camera.width), np.uint8)
    path = [field.camera.to_px(float(x), float(y))[::-1] for x, y in corners]
    cv2.fillPoly(mask, [np.round(path).astype(np.int32)], 1)
    return mask


def _string(rng: np.random.Generator) -> list[Tube]:
    turns = np.cumsum(rng.normal(0, 0.22, 60))
    steps = np.stack([np.cos(turns), np.sin(turns)], axis=1) * rng.uniform(2, 4)
    radius = float(rng.uniform(0.6, 1.6))
    points = np.column_stack([np.cumsum(steps, axis=0), np.full(60, radius)])
    colour = np.array([0.68, 0.57, 0.38]) * rng.uniform(0.7, 1.2)
    if rng.random() < 0.4:
        colour = rng.uniform(0.1, 0.9, 3)
    return [tool(points, np.full(60, radius), colour, 0.0)]


def _roots(rng: np.random.Generator) -> list[Tube]:
    """Loose bits of root and stem that have come off."""
    colour = np.array([0.45, 0.35, 0.25]) * rng.uniform(0.6, 1.5)
    tubes = []
    for _ in range(int(rng.integers(2, 9))):
        turns = rng.uniform(0, 7) + np.cumsum(rng.normal(0, 0.25, 14))
        steps = np.stack([np.cos(turns), np.sin(turns)], axis=1) * rng.uniform(0.4, 2.2)
        flat = rng.normal(0, 35, 2) + np.cumsum(steps, axis=0)
        radius = rng.uniform(0.3, 1.3) * np.linspace(1, 0.5, 14)
        points = np.column_stack([flat, radius])
        tubes.append(tool(points, radius, colour * rng.uniform(0.8, 1.2), 0.0))
    return tubes


def _hardware(rng: np.random.Generator) -> list[Tube]:
    """Rivets, screws, pebbles: small round things, some of them shining."""
    tubes = []
    metal = rng.random() < 0.6
    for _ in range(int(rng.integers(1, 6))):
        radius = float(rng.uniform(1.0, 7.0))
        long = radius * rng.uniform(0.1, 1.2)
        turn, middle = rng.uniform(0, 7), rng.normal(0, 25, 2)
        along = np.linspace(-long, long, 8)
        x, y = middle[0] + along * np.cos(turn), middle[1] + along * np.sin(turn)
        base = BRASS if rng.random() < 0.4 else STEEL
        colour = base if metal else np.array([0.45, 0.40, 0.34])
        points = np.column_stack([x, y, np.full(8, 0.2 * radius)])
        shade = colour * rng.uniform(0.6, 1.3)
        sizes = radius * rng.uniform(0.9, 1.0, 8)
        tubes.append(tool(points, sizes, shade, 0.9 if metal else 0.05))
    return tubes


_FLAT = {"label": _label, "knife": _knife}
_ROUND = {
    "string": _string,
    "snips": snips,
    "brush": brush,
    "hand": hand,
    "roots": _roots,
    "hardware": _hardware,
}
