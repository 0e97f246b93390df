"""Things that lie about: plant labels, string, tools."""

import cv2
import numpy as np
import torch
from numpy.typing import NDArray

from eyefind.workshop.anatomy import Tube, Vector
from eyefind.workshop.coat import Coat
from eyefind.workshop.field import Field, put_tube
from eyefind.workshop.truth import PARTS

HANDLES = (
    (0.72, 0.12, 0.10),
    (0.15, 0.45, 0.20),
    (0.85, 0.45, 0.08),
    (0.12, 0.12, 0.13),
    (0.55, 0.38, 0.22),
)
STEEL = (0.60, 0.61, 0.62)


def strew(
    rng: np.random.Generator, field: Field, coat: Coat, first: int, around: Vector
) -> None:
    """Strew some things over the bench; the clump stays on top.

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
    for _ in range(int(rng.choice(3, p=[0.45, 0.35, 0.2]))):
        spot = np.array([rng.uniform(*around[:2]), rng.uniform(*around[2:])])
        kind = rng.choice(["label", "string", "snips"])
        if kind == "label":
            _label(rng, field, coat, spot)
            continue
        tubes = _string(rng, spot) if kind == "string" else _snips(rng, spot)
        for tube in tubes:
            tube.points[:, 2] += _bench_height(field, tube.points)
            _lay_tube(field, coat, tube, number)
            number += 1


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


def _label(rng: np.random.Generator, field: Field, coat: Coat, spot: Vector) -> None:
    """Lay a plastic plant label with scribbles."""
    angle, long, wide = rng.uniform(0, np.pi), rng.uniform(60, 120), rng.uniform(10, 18)
    along = np.array([np.cos(angle), np.sin(angle)])
    across = np.array([-along[1], along[0]])
    shape = [(-0.5, -0.5), (0.4, -0.5), (0.5, 0), (0.4, 0.5), (-0.5, 0.5)]
    corners = [spot + u * long * along + v * wide * across for u, v in shape]
    mask = _polygon(field, corners)
    ink = np.zeros_like(mask)
    for _ in range(int(rng.integers(3, 9))):
        u = rng.uniform(-0.42, 0.15) * long
        strokes = u + np.cumsum(rng.uniform(0.5, 2.5, 7))
        line = [
            field.camera.to_px(
                *(spot + s * along + rng.normal(0, 0.18) * wide * across)
            )
            for s in strokes
        ]
        path = np.round([(c, r) for r, c in line]).astype(np.int32)
        width = max(1, int(0.5 * field.camera.px_per_mm))
        cv2.polylines(ink, [path], False, 1, width, cv2.LINE_AA)
    cover = torch.from_numpy(mask > 0).to(field.z.device) & (field.part == 0)
    colour = (0.9, 0.9, 0.86) if rng.random() < 0.7 else (0.85, 0.75, 0.3)
    coat.colour[cover] = torch.tensor(colour, device=field.z.device)
    drawn = cover & torch.from_numpy(ink > 0).to(cover.device)
    coat.colour[drawn] = 0.12
    coat.gloss[cover] = 0.4
    field.z[cover] = field.bench_z[cover] + 1.0
    field.part[cover] = PARTS.index("tool_or_card")


def _polygon(field: Field, corners: list[Vector]) -> NDArray[np.uint8]:
    mask = np.zeros((field.camera.height, field.camera.width), np.uint8)
    path = [field.camera.to_px(float(x), float(y))[::-1] for x, y in corners]
    cv2.fillPoly(mask, [np.round(path).astype(np.int32)], 1)
    return mask


def _tool(points: Vector, radius: Vector, colour: Vector, wet: float) -> Tube:
    return Tube("tool", "", points, radius, colour=colour, wet=wet)


def _string(rng: np.random.Generator, spot: Vector) -> list[Tube]:
    turns = np.cumsum(rng.normal(0, 0.22, 60))
    steps = np.stack([np.cos(turns), np.sin(turns)], axis=1) * rng.uniform(2, 4)
    flat = spot + np.cumsum(steps, axis=0)
    radius = float(rng.uniform(0.6, 1.3))
    points = np.column_stack([flat, np.full(60, radius)])
    colour = np.array([0.68, 0.57, 0.38]) * rng.uniform(0.7, 1.2)
    return [_tool(points, np.full(60, radius), colour, 0.0)]


def _snips(rng: np.random.Generator, spot: Vector) -> list[Tube]:
    """Two handles, two blades and a rivet."""
    angle = rng.uniform(0, 2 * np.pi)
    colour = np.array(HANDLES[rng.integers(len(HANDLES))])
    tubes = []
    along = np.linspace(0, 1, 30)
    for side in (-1, 1):
        bow = side * (4 + 14 * np.sin(np.pi * along) ** 0.8)
        handle = np.column_stack([-95 * along, bow, np.full(30, 5.5)])
        tubes.append(_tool(handle, np.full(30, 5.0) - 1.5 * along, colour, 0.35))
        blade = np.column_stack([45 * along, side * 3 * (1 - along), np.full(30, 4.0)])
        tubes.append(_tool(blade, 3.6 * (1 - along) + 0.4, np.array(STEEL), 0.8))
    rivet = np.column_stack([np.linspace(-1, 1, 8), np.zeros(8), np.full(8, 5.0)])
    tubes.append(_tool(rivet, np.full(8, 3.8), np.array(STEEL) * 0.8, 0.9))
    c, s = np.cos(angle), np.sin(angle)
    for tube in tubes:
        tube.points = tube.points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
        tube.points[:, :2] += spot
    return tubes
