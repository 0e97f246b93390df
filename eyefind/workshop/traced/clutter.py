"""What lies about on a bench: knife, snips, brush, string, label, glove, hand."""

from collections.abc import Callable

import numpy as np
from skimage.measure import marching_cubes

from eyefind.workshop.traced.bench import TOOL
from eyefind.workshop.traced.mesh import Mesh, box, joined, loft, tube
from eyefind.workshop.traced.noise3 import Floats, Noise

STEEL = (0.62, 0.62, 0.6)
HANDLES = [(0.42, 0.03, 0.03), (0.03, 0.22, 0.06), (0.03, 0.03, 0.03)]
WOODS = [(0.42, 0.24, 0.1), (0.2, 0.09, 0.04)]
SKINS = [(0.56, 0.33, 0.24), (0.38, 0.2, 0.13), (0.14, 0.07, 0.045)]
Draw = Callable[[np.random.Generator, Noise], Mesh]


def things(
    rng: np.random.Generator, noise: Noise, taken: Floats, reach_mm: float
) -> list[Mesh]:
    """Lay zero to three things beside a clump.

    Parameters
    ----------
    rng, noise
        What draws them.
    taken : (N, 2) array
        Places on the bench that the clump covers, mm.
    reach_mm : float
        How far away they may lie.

    Returns
    -------
    list of Mesh
        Labelled as tools.
    """
    meshes: list[Mesh] = []
    draws: list[Draw] = [knife, snips, brush, string, label, glove, hand]
    odds = np.array([0.18, 0.22, 0.14, 0.16, 0.16, 0.07, 0.07])
    for _ in range(int(rng.choice(4, p=[0.3, 0.4, 0.2, 0.1]))):
        mesh = draws[rng.choice(len(draws), p=odds)](rng, noise)
        place = clear_place(rng, mesh, taken, reach_mm)
        if place is not None:
            meshes.append(mesh.moved(*place).labelled(TOOL))
            taken = np.concatenate([taken, mesh.vertices[:, :2]])
    return meshes


def clear_place(
    rng: np.random.Generator, mesh: Mesh, taken: Floats, reach_mm: float
) -> tuple[Floats, Floats] | None:
    """Draw a rotation and a shift that keep clear of what lies there.

    Takes what `things` takes, and the thing.

    Returns
    -------
    ((3, 3) array, (3,) array) or None
        None if no room was found.
    """
    cells = {tuple(c) for c in np.floor(taken / 8).astype(int)}
    for _ in range(30):
        angle = rng.uniform(0, 2 * np.pi)
        turn = np.eye(3)
        turn[:2, :2] = [[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]
        away, round_ = rng.uniform(0.45, 1.1) * reach_mm, rng.uniform(0, 2 * np.pi)
        shift = np.array([away * np.cos(round_), away * np.sin(round_), 0.0])
        places = (mesh.vertices @ turn.T + shift)[:, :2]
        if not cells & {tuple(c) for c in np.floor(places / 8).astype(int)}:
            return turn, shift
    return None


def _bar(path: Floats, wide: Floats, tall: Floats, sides: int = 20) -> Mesh:
    """Return a bar of rounded-square section along a level path."""
    angle = 2 * np.pi * np.arange(sides) / sides
    super_ = (np.abs(np.cos(angle)) ** 4 + np.abs(np.sin(angle)) ** 4) ** -0.25
    mesh = loft(path, np.repeat(super_[None], len(path), axis=0))
    arm = mesh.vertices.reshape(len(path), sides, 3) - path[:, None]
    along = np.gradient(path, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    across = np.cross(np.array([0, 0, 1.0]), along)
    aside = np.einsum("ijk,ik->ij", arm, across) * wide[:, None]
    up = arm[..., 2] * tall[:, None]
    places = path[:, None] + aside[..., None] * across[:, None]
    places[..., 2] += up
    mesh.vertices = places.reshape(-1, 3)
    return mesh


def _ends(count: int) -> Floats:
    """Return widths of a bar of `count` rings with rounded ends."""
    at = np.linspace(-1, 1, count)
    return np.asarray(np.sqrt(np.clip(1 - np.abs(at) ** 10, 0.0004, 1)))


def _line(length: float, count: int, height: float) -> Floats:
    x = np.linspace(0, length, count)
    return np.stack([x, np.zeros(count), np.full(count, height)], -1)


def _metal(mesh: Mesh, rough: float) -> Mesh:
    mesh.painted(STEEL, rough)
    mesh.metal[:] = 1.0
    return mesh


def knife(rng: np.random.Generator, noise: Noise) -> Mesh:
    """Return a knife with a straight blade."""
    long = rng.uniform(65, 110)
    grip = _bar(_line(95, 40, 8.5), 9 * _ends(40), 7.5 * _ends(40))
    hue = (*WOODS, *HANDLES)[rng.integers(5)]
    grip.painted(hue, rng.uniform(0.35, 0.7))
    grip.colour *= (1 + 0.15 * noise.at(grip.vertices, np.array([30.0, 2, 2])))[:, None]
    blade_path = _line(long, 30, 7.0) + np.array([92, 0, 0])
    tip = np.sqrt(np.clip(1 - np.linspace(0, 1, 30) ** 4, 0.001, 1))
    blade = _metal(
        _bar(blade_path, 8.5 * tip, np.full(30, 0.8)), rng.uniform(0.15, 0.4)
    )
    return joined([grip, blade])


def _arc(
    start: Floats, angle: float, bow: float, length: float, height: float
) -> Floats:
    share = np.linspace(0, 1, 36)
    aside = bow * np.sin(np.pi * share)
    way, across = np.array([np.cos(angle), np.sin(angle)]), np.array(
        [-np.sin(angle), np.cos(angle)])  # fmt: skip
    flat = start[:2] + length * share[:, None] * way + aside[:, None] * across
    return np.concatenate([flat, np.full((36, 1), height)], axis=1)


def snips(rng: np.random.Generator, noise: Noise) -> Mesh:
    """Return garden snips: two handles, two blades, a rivet."""
    del noise
    hue = HANDLES[rng.choice(3, p=[0.5, 0.35, 0.15])]
    spread, parts = rng.uniform(0.1, 0.28), []
    origin = np.zeros(3)
    for side in (-1, 1):
        path = _arc(origin, np.pi + side * spread, -side * 13.0, 110, 7.5 + side)
        grip = _bar(path, 6.5 * _ends(36), 6 * _ends(36))
        parts.append(grip.painted(hue, rng.uniform(0.3, 0.6)))
        blade = _arc(origin, -side * 0.5 * spread, side * 5.0, 55, 7.0 + side)
        narrow = np.linspace(6.5, 0.8, 36)
        parts.append(_metal(_bar(blade, narrow, np.full(36, 1.3)), 0.3))
    rivet = tube(np.array([[0, 0, 4.0], [0, 0, 10.5], [0, 0, 10.6]]),
                 np.array([5.0, 5.0, 0.05]), 24)  # fmt: skip
    return joined([*parts, _metal(rivet, 0.25)])


def brush(rng: np.random.Generator, noise: Noise) -> Mesh:
    """Return a scrubbing brush, bristles to the side."""
    block = _bar(_line(120, 40, 12.0), 19 * _ends(40), 8 * _ends(40))
    block.painted(WOODS[rng.integers(2)], 0.6)
    block.colour *= (1 + 0.2 * noise.at(block.vertices, np.array([40.0, 2, 2])))[
        :, None
    ]
    tufts = []
    for x in np.arange(8, 114, 6.0):
        for z in (9.0, 14.0):
            for _ in range(4):
                lean = rng.normal(0, 1.6, 2)
                path = np.array([[x, 17.0, z], [x + lean[0], 38.0, z + lean[1]]])
                path = np.concatenate(
                    [path[:1], path.mean(axis=0, keepdims=True), path[1:]]
                )
                tufts.append(tube(path, np.array([0.8, 0.8, 0.6]), 5))
    hair = joined(tufts).painted((0.45, 0.36, 0.2), 0.8)
    return joined([block, hair])


def string(rng: np.random.Generator, noise: Noise) -> Mesh:
    """Return a piece of twine in loops."""
    share = np.linspace(0, 1, 400)
    turn = np.cumsum(0.05 * np.cumsum(rng.normal(0, 0.16, 400))) + 9 * share
    step = 0.9
    x, y = np.cumsum(np.cos(turn)) * step, np.cumsum(np.sin(turn)) * step
    z = 1.1 + 0.7 * np.abs(noise.at(np.stack([x, y, share], -1), 15.0))
    thick = 0.95 * (1 + 0.18 * np.sin(np.arange(400) * 2.1))
    hue = [(0.42, 0.3, 0.15), (0.5, 0.5, 0.45), (0.1, 0.25, 0.08)][rng.integers(3)]
    return tube(np.stack([x, y, z], -1), thick, 8).painted(hue, 0.95)


def label(rng: np.random.Generator, noise: Noise) -> Mesh:
    """Return a plastic plant label with scrawled strokes, no letters."""
    del noise
    wide, long = rng.uniform(12, 22), rng.uniform(90, 140)
    plate = box((long, wide, 0.8)).moved(np.eye(3), np.array([0, 0, 0.6]))
    hue = [(0.72, 0.72, 0.7), (0.6, 0.55, 0.1), (0.25, 0.45, 0.6)][rng.integers(3)]
    parts = [plate.painted(hue, 0.45)]
    x = -0.3 * long
    for _ in range(int(rng.integers(2, 4))):
        count = int(rng.integers(30, 60))
        along = x + np.linspace(0, count * 0.4, count)
        wave = 0.16 * wide * np.sin(np.linspace(0, count * 0.55, count) + rng.normal(
            0, 0.3, count).cumsum())  # fmt: skip
        path = np.stack([along, wave, np.full(count, 1.0)], -1)
        parts.append(
            tube(path, np.full(count, 0.35), 5).painted((0.02, 0.02, 0.03), 0.7)
        )
        x = along[-1] + 4
    return joined(parts)


def hand(rng: np.random.Generator, noise: Noise) -> Mesh:
    """Return part of a bare hand that lies on the bench."""
    mesh = _hand(rng)
    hue = np.array(SKINS[rng.integers(3)]) * rng.uniform(0.85, 1.15)
    mesh.painted(hue, 0.5)
    lines = noise.at(mesh.vertices, np.array([1.4, 7.0, 7.0]))
    mesh.colour *= (1 + 0.05 * lines + 0.1 * noise.rough(mesh.vertices, 12, 3))[:, None]
    red = np.exp(-(((mesh.vertices[:, 0] - 78) / 14) ** 2))
    mesh.colour *= 1 + 0.12 * red[:, None] * np.array([1, -0.6, -0.6])
    return mesh


def glove(rng: np.random.Generator, noise: Noise) -> Mesh:
    """Return a knitted glove."""
    mesh = _hand(rng, 1.25)
    hue = np.array([(0.1, 0.25, 0.12), (0.45, 0.42, 0.36), (0.1, 0.13, 0.3)][
        rng.integers(3)])  # fmt: skip
    mesh.painted(hue, 0.95)
    knit = np.sin(mesh.vertices[:, 0] * 3.2) * np.sin(mesh.vertices[:, 1] * 3.2)
    dirt = np.clip(noise.rough(mesh.vertices, 25, 3), 0, 1.5)
    mesh.colour *= np.clip(1 + 0.2 * knit - 0.35 * dirt, 0.2, 1.3)[:, None]
    return mesh


def _hand(rng: np.random.Generator, fat: float = 1.0) -> Mesh:
    """Return a palm with four fingers and a thumb."""
    bones = [(np.array([0, 0, 15.0]), np.array([48, 0, 18.0]), 17.0)]
    bones += [(np.array([30, y, 17.0]), np.array([50, 1.15 * y, 18.0]), 13.0)
              for y in (-22.0, 22.0)]  # fmt: skip
    for index, y in enumerate((-27.0, -9.0, 9.0, 27.0)):
        reach = (38, 46, 43, 32)[index] * rng.uniform(0.8, 1)
        knuckle = np.array([55, y, 18.0])
        joint = knuckle + np.array([reach * 0.55, 0.12 * y, rng.uniform(2, 12)])
        tip = joint + np.array([reach * 0.5, 0.05 * y, 9.0 - joint[2]])
        bones += [(knuckle, joint, 8.8), (joint, tip, 7.8)]
    bones.append((np.array([10, 25, 14.0]), np.array([45, 52, 10.0]), 9.5))
    axes = [np.arange(a, b, 1.6) for a, b in ((-30, 130), (-55, 75), (-12, 48))]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), -1)
    total = np.zeros(grid.shape[:3])
    for one, two, radius in bones:
        arm = two - one
        share = np.clip(((grid - one) @ arm) / (arm @ arm), 0, 1)
        away = np.linalg.norm(grid - one - share[..., None] * arm, axis=-1)
        total += np.exp(-0.55 * (away - radius * fat))
    depth = -np.log(np.maximum(total, 1e-30))
    depth[[0, -1]] = depth[:, [0, -1]] = depth[:, :, [0, -1]] = 1.0
    vertices, faces, _, _ = marching_cubes(depth, 0.0, spacing=(1.6, 1.6, 1.6))
    vertices = vertices + np.array([a[0] for a in axes])
    vertices[:, 2] = np.maximum(vertices[:, 2], 0.2)
    return Mesh(vertices.astype(np.float64), faces.astype(np.int64))
