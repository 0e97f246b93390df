"""Tools and hands as tubes in millimetres, lying at the origin along x."""

import numpy as np

from eyefind.workshop.anatomy import Tube, Vector

HANDLES = np.array(
    [
        (0.72, 0.12, 0.10),
        (0.15, 0.45, 0.20),
        (0.85, 0.45, 0.08),
        (0.12, 0.12, 0.13),
        (0.55, 0.38, 0.22),
        (0.15, 0.30, 0.60),
        (0.85, 0.75, 0.15),
    ]
)
"""Handles: red, green, orange, black, wood, blue, yellow."""
HANDS = np.array(
    [
        (0.86, 0.68, 0.57),
        (0.76, 0.55, 0.43),
        (0.58, 0.39, 0.28),
        (0.36, 0.24, 0.18),
    ]
)
"""Hands, light to dark; from memory."""
STEEL = np.array([0.60, 0.61, 0.62])
BRASS = np.array([0.70, 0.56, 0.30])


def tool(points: Vector, radius: Vector, colour: Vector, wet: float) -> Tube:
    """Make a tube of something that is no part of the clump."""
    return Tube("tool", "", points, radius, colour=np.clip(colour, 0, 1), wet=wet)


def placed(tubes: list[Tube], spot: Vector, angle: float) -> list[Tube]:
    """Turn tubes about the origin and shift them to `spot`; changes them."""
    c, s = np.cos(angle), np.sin(angle)
    for tube in tubes:
        tube.points = tube.points @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
        tube.points[:, :2] += spot
    return tubes


def _grip(rng: np.random.Generator) -> Vector:
    return np.asarray(HANDLES[rng.integers(len(HANDLES))] * rng.uniform(0.7, 1.15))


def knife_handle(rng: np.random.Generator, wide: float) -> tuple[float, Vector]:
    """Draw length in mm and colour of a knife's handle."""
    return float(wide * rng.uniform(4, 6)), _grip(rng)


def snips(rng: np.random.Generator) -> list[Tube]:
    """Make two handles, two blades and a rivet."""
    colour, wide = _grip(rng), rng.uniform(0.6, 1.5)
    tubes = []
    along = np.linspace(0, 1, 30)
    for side in (-1, 1):
        bow = side * wide * (4 + 14 * np.sin(np.pi * along) ** 0.8)
        handle = np.column_stack([-95 * along, bow, np.full(30, 5.5)])
        tubes.append(tool(handle, np.full(30, 5.0) - 1.5 * along, colour, 0.35))
        blade = np.column_stack([45 * along, side * 3 * (1 - along), np.full(30, 4.0)])
        tubes.append(tool(blade, 3.6 * (1 - along) + 0.4, STEEL, 0.8))
    rivet = np.column_stack([np.linspace(-1, 1, 8), np.zeros(8), np.full(8, 5.0)])
    tubes.append(tool(rivet, np.full(8, rng.uniform(3, 5.5)), STEEL * 0.8, 0.9))
    return tubes


def brush(rng: np.random.Generator) -> list[Tube]:
    """Make a handle, a ferrule and bristles."""
    along, wide = np.linspace(0, 1, 20), float(rng.uniform(8, 24))
    handle = np.column_stack([-20 - 100 * along, 0 * along, np.full(20, 7.0)])
    swell = 5 + 2.5 * np.sin(3 * along)
    tubes = [tool(handle, swell, _grip(rng), 0.3)]
    across = np.linspace(-wide, wide, 12)
    ferrule = np.column_stack([np.full(12, -12.0), across, np.full(12, 6.0)])
    metal = BRASS if rng.random() < 0.5 else STEEL
    tubes.append(tool(ferrule, np.full(12, 8.0), metal, 0.8))
    bristle = np.array([0.35, 0.27, 0.18]) * rng.uniform(0.4, 2.2)
    length = rng.uniform(20, 45)
    for start in np.linspace(-wide, wide, 24):
        end = start * rng.uniform(1.0, 1.5) + rng.normal(0, 2)
        y = start + (end - start) * along**1.5
        points = np.column_stack([-8 + length * along, y, 6 - 4 * along])
        shade = bristle * rng.uniform(0.7, 1.3)
        tubes.append(tool(points, np.full(20, 0.9), shade, 0.0))
    return tubes


def hand(rng: np.random.Generator) -> list[Tube]:
    """Make a bare or gloved hand that reaches in, fingers towards x."""
    gloved = rng.random() < 0.4
    colour = rng.uniform(0.1, 0.85, 3) if gloved else HANDS[rng.integers(len(HANDS))]
    colour = colour * rng.uniform(0.85, 1.1)
    fat = rng.uniform(6.5, 9) * (1.25 if gloved else 1.0)
    along = np.linspace(0, 1, 20)
    arm = np.column_stack([-140 + 130 * along, 0 * along, np.full(20, 14.0)])
    tubes = [tool(arm, 24 + 6 * along, colour, 0.05)]
    for number in range(5):
        thumb = number == 4
        base = np.array([-45.0, 30.0]) if thumb else np.array([-60, 24.0 - 16 * number])
        length = rng.uniform(75, 90) if thumb else rng.uniform(115, 140)
        turn = 0.7 if thumb else rng.normal(0.12 - 0.1 * number, 0.06)
        curl = rng.normal(0, 12) * along**2
        x = base[0] + length * along * np.cos(turn) - curl * np.sin(turn)
        y = base[1] + length * along * np.sin(turn) + curl * np.cos(turn)
        points = np.column_stack([x, y, 15 - 5 * along])
        joints = 1 + 0.06 * np.cos(along * 13)
        tubes.append(tool(points, fat * joints * (1.15 - 0.3 * along), colour, 0.08))
        if not gloved:
            nail = points[-2] + [0, 0, 0.35 * fat]
            spots = nail + np.linspace(-2, 2, 6)[:, None] * [
                np.cos(turn),
                np.sin(turn),
                0,
            ]
            tubes.append(tool(spots, np.full(6, 0.55 * fat), colour * 1.1 + 0.06, 0.4))
    return tubes
