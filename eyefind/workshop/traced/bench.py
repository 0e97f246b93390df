"""Benches: planes with painted bitmaps, a tray with a rim, rough soil."""

from collections.abc import Callable

import cv2
import numpy as np
from scipy.ndimage import gaussian_filter

from eyefind.model.network import PARTS
from eyefind.workshop.traced.mesh import Mesh, box, joined, loft
from eyefind.workshop.traced.noise3 import Floats, Noise, mix, smooth_step

TILE_MM = 640.0
"""Edge of what one bitmap covers."""
TILE_PX = 2048
TOOL = 100 * PARTS.index("tool_or_card")


def _cloud(
    rng: np.random.Generator, sigma: tuple[float, float], size: int = TILE_PX
) -> Floats:
    """Return smooth noise that wraps around, (size, size), deviation 1."""
    shrink = max(1, int(min(sigma) / 3))
    small = rng.normal(0, 1, (size // shrink, size // shrink))
    small = gaussian_filter(small, [s / shrink for s in sigma], mode="wrap")
    cloud = cv2.resize(small, (size, size), interpolation=cv2.INTER_LINEAR)
    return np.asarray(cloud / cloud.std())


def wood(rng: np.random.Generator) -> Floats:
    """Return boards with rings, knots and joints, linear RGB bitmap."""
    boards = int(rng.integers(3, 9))
    row, col = np.mgrid[0:TILE_PX, 0:TILE_PX] / TILE_PX
    board = np.floor(col * boards).astype(int)
    lift = rng.uniform(0, 40, boards)[board]
    across = (col * boards) % 1.0 + 0.02 * _cloud(rng, (220, 40))
    knot = np.zeros_like(row)
    pull = np.zeros_like(row)
    for _ in range(int(rng.integers(2, 9))):
        r, c, big = rng.uniform(0, 1), rng.uniform(0, 1), rng.uniform(0.006, 0.016)
        away = np.hypot((row - r) / 1.6, col - c) / big
        pull += np.exp(-(away**2) / 9) * 2.2
        knot = np.maximum(knot, np.exp(-(away**2)))
    rings = np.sin(2 * np.pi * (across * rng.uniform(3, 9) + lift + 0.6 * pull
                                + 0.5 * _cloud(rng, (300, 18))))  # fmt: skip
    fibre = _cloud(rng, (30, 0.8))
    light = np.array([0.5, 0.33, 0.17]) * rng.uniform(0.35, 1.15)
    grey = rng.uniform(0, 0.8)
    light = light * (1 - grey) + grey * light.mean() * np.array([1.02, 1.0, 0.94])
    shade = 1 + 0.13 * rings + 0.09 * fibre + 0.08 * _cloud(rng, (120, 120))
    shade *= rng.uniform(0.82, 1.15, boards)[board]
    shade *= 1 - 0.65 * knot
    gap = np.minimum(across % 1.0, 1 - across % 1.0) < 0.006 * boards / 4
    shade = np.where(gap, 0.18, shade)
    image = light * shade[..., None]
    return _stained(rng, image)


def cloth(rng: np.random.Generator) -> Floats:
    """Return a coarse weave, linear RGB bitmap."""
    row, col = np.mgrid[0:TILE_PX, 0:TILE_PX]
    pitch = TILE_PX / int(rng.integers(150, 420))
    wobble = 0.6 * _cloud(rng, (60, 60))
    warp = np.cos(2 * np.pi * (col / pitch + wobble))
    weft = np.cos(2 * np.pi * (row / pitch + wobble))
    over = np.cos(np.pi * (row / pitch)) * np.cos(np.pi * (col / pitch)) > 0
    weave = np.where(over, 0.5 + 0.5 * warp, 0.5 + 0.5 * weft)
    hues = [(0.42, 0.34, 0.22), (0.25, 0.3, 0.36), (0.5, 0.47, 0.4), (0.3, 0.12, 0.1)]
    hue = np.array(hues[rng.integers(4)]) * rng.uniform(0.6, 1.2)
    fold = 1 + 0.1 * _cloud(rng, (90, 200))
    image = (
        hue
        * ((0.55 + 0.5 * weave) * fold * (1 + 0.1 * _cloud(rng, (3, 20))))[..., None]
    )
    if rng.random() < 0.3:
        stripe = (np.sin(2 * np.pi * row / 256) > 0.86)[..., None]
        image = np.where(stripe, image * np.array([0.5, 0.35, 0.5]), image)
    return _stained(rng, image)


def printed(rng: np.random.Generator) -> Floats:
    """Return a printed sheet: columns of marks, not letters, linear RGB bitmap."""
    sheet = np.full((TILE_PX, TILE_PX), 1.0)
    columns = int(rng.integers(4, 7))
    wide = TILE_PX // columns
    for column in range(columns):
        row = int(rng.integers(0, 30))
        while row < TILE_PX - 12:
            kind = rng.random()
            left = column * wide + 10
            if kind < 0.03:
                deep = int(rng.integers(60, 220))
                block = 0.45 + 0.2 * _cloud(rng, (20, 20), 256)
                block = np.asarray(cv2.resize(block, (wide - 20, deep)), float)
                sheet[row : row + deep, left : left + wide - 20] = block[
                    : TILE_PX - row
                ]
                row += deep + 12
                continue
            tall = int(rng.integers(18, 34)) if kind < 0.06 else 6
            _line(rng, sheet, row, left, column * wide + wide - 10, tall)
            row += int(tall * 1.75) + (10 if rng.random() < 0.06 else 0)
    sheet = cv2.GaussianBlur(np.clip(sheet, 0, 1), (0, 0), 0.7)
    paper = np.array([0.6, 0.56, 0.47]) * rng.uniform(0.75, 1.1)
    image = paper * (0.1 + 0.9 * sheet)[..., None]
    return _stained(rng, image * (1 + 0.04 * _cloud(rng, (150, 60)))[..., None])


def _line(
    rng: np.random.Generator, sheet: Floats, row: int, left: int, right: int, tall: int
) -> None:
    col = left
    while col < right - tall:
        for _ in range(int(rng.integers(2, 9))):
            if col >= right - tall:
                break
            wide = max(2, int(tall * rng.uniform(0.3, 0.6)))
            low = rng.uniform(0, 0.35) * tall
            sheet[row + int(low) : row + tall, col : col + max(1, tall // 5)] = 0.1
            if rng.random() < 0.7:
                across = min(row + int(rng.uniform(0.2, 0.8) * tall), TILE_PX - 1)
                sheet[across, col : col + wide] = 0.15
            col += wide + max(1, tall // 6)
        col += max(2, tall // 2)


def plastic(rng: np.random.Generator) -> Floats:
    """Return smooth scratched plastic, linear RGB bitmap."""
    hues = [
        (0.03, 0.03, 0.035),
        (0.1, 0.2, 0.11),
        (0.55, 0.55, 0.53),
        (0.08, 0.13, 0.28),
    ]
    hue = np.array(hues[rng.integers(4)]) * rng.uniform(0.7, 1.3)
    scratch = np.zeros((TILE_PX, TILE_PX), np.float32)
    for _ in range(int(rng.integers(20, 160))):
        ends = rng.uniform(0, TILE_PX, 2), rng.normal(0, 140, 2)
        one, two = ends[0].astype(int), (ends[0] + ends[1]).astype(int)
        cv2.line(scratch, tuple(map(int, one)), tuple(map(int, two)),
                 float(rng.uniform(0.1, 0.5)), 1, cv2.LINE_AA)  # fmt: skip
    image = hue * (1 + 0.05 * _cloud(rng, (80, 80)))[..., None]
    return _stained(rng, image + 0.05 * scratch[..., None])


def _stained(rng: np.random.Generator, image: Floats) -> Floats:
    """Put damp patches and dried soil on a bench."""
    damp = smooth_step(1.0, 1.6, _cloud(rng, (90, 90)) + 0.35 * _cloud(rng, (12, 12)))
    image = image * (1 - 0.35 * rng.uniform(0, 1) * damp)[..., None]
    dirt = smooth_step(1.2, 2.4, _cloud(rng, (60, 60)) + 0.8 * _cloud(rng, (3, 3)))
    soil = np.array([0.07, 0.047, 0.03])
    part = (rng.uniform(0, 0.9) * dirt)[..., None]
    return np.clip(image * (1 - part) + soil * part, 0.005, 0.85)


PAINTED: dict[str, Callable[[np.random.Generator], Floats]] = {
    "wood": wood,
    "cloth": cloth,
    "newsprint": printed,
    "plastic": plastic,
    "tray": plastic,
}
ROUGH = {"wood": 0.7, "cloth": 0.95, "newsprint": 0.85, "plastic": 0.4, "tray": 0.35}
BENCHES = ("wood", "cloth", "newsprint", "plastic", "tray", "soil")
SHARES = [0.28, 0.15, 0.17, 0.12, 0.12, 0.16]


def ground(rng: np.random.Generator, noise: Noise, reach_mm: float) -> Mesh:
    """Return a rough bed of soil around the origin, labelled as bench."""
    axis = np.arange(-reach_mm, reach_mm, 1.3)
    x, y = (a.ravel() for a in np.meshgrid(axis, axis))
    flat = np.stack([x, y, np.zeros_like(x)], -1)
    lumps = noise.rough(flat + 900, 26.0, 4)
    crumbs = noise.rough(flat + 300, 5.0, 3)
    rise = 3.0 * lumps + 1.6 * np.maximum(crumbs, -0.4) - 4.5
    vertices = flat + rise[:, None] * np.array([0, 0, 1])
    count = len(axis)
    one = (np.arange(count - 1)[:, None] * count + np.arange(count - 1)).ravel()
    faces = np.concatenate([
        np.stack([one, one + 1, one + count], -1),
        np.stack([one + 1, one + count + 1, one + count], -1),
    ])  # fmt: skip
    mesh = Mesh(vertices, faces)
    hue = np.array([0.085, 0.055, 0.035]) * rng.uniform(0.5, 2.0)
    dry = smooth_step(-0.5, 1.5, lumps + 0.5 * noise.at(flat, 60.0))
    colour = mix(hue * np.ones_like(flat), hue * 1.9, dry)
    mesh.colour = np.clip(colour * (1 + 0.2 * crumbs)[:, None], 0.004, 0.6)
    mesh.rough[:] = 1.0
    return mesh


def crumbs(rng: np.random.Generator, noise: Noise, reach_mm: float) -> Mesh:
    """Return clods and dust that fell on the bench, labelled as bench."""
    meshes = []
    middle = rng.normal(0, 30, 2)
    for _ in range(int(rng.integers(30, 260))):
        spot = middle + rng.normal(0, 0.45 * reach_mm, 2)
        meshes.append(
            _clod(rng, noise, spot, float(np.clip(rng.lognormal(-0.2, 0.7), 0.25, 7)))
        )
    return joined(meshes)


def _clod(rng: np.random.Generator, noise: Noise, spot: Floats, radius: float) -> Mesh:
    ball = _ball(10 if radius < 2 else 22)
    shape = 1 + 0.3 * noise.rough(ball.vertices * 3 + rng.uniform(0, 99, 3), 2.5, 3)
    size = radius * rng.uniform(0.6, 1.1, 3)
    ball.vertices = ball.vertices * shape[:, None] * size
    ball.vertices += np.array([spot[0], spot[1], 0.3 * radius])
    hue = np.array([0.08, 0.053, 0.034]) * rng.uniform(0.6, 2.0)
    return ball.painted(hue, 1.0)


def _ball(steps: int) -> Mesh:
    """Return a unit ball."""
    height = np.cos(np.linspace(np.pi, 0, steps))
    path = np.stack([np.zeros(steps), np.zeros(steps), height], -1)
    radius = np.sqrt(np.maximum(1 - height**2, 1e-5))
    return loft(path, np.repeat(radius[:, None], 2 * steps, axis=1))


def rim(rng: np.random.Generator, reach_mm: float) -> Mesh:
    """Return the four upright sides of a tray, labelled as bench."""
    tall, edge = rng.uniform(20, 45), rng.uniform(2, 5)
    hue = (
        np.array([0.03, 0.03, 0.035])
        if rng.random() < 0.5
        else np.array([0.15, 0.16, 0.15])
    )
    sides = []
    for index in range(4):
        angle = index * np.pi / 2
        side = box((2 * reach_mm, edge, tall))
        turn = np.array([[np.cos(angle), -np.sin(angle), 0],
                         [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])  # fmt: skip
        shift = turn @ np.array([0, reach_mm, 0]) + np.array([0, 0, tall / 2])
        sides.append(side.moved(turn, shift).painted(hue, 0.4))
    return joined(sides)
