"""Lofted skins of tubers and roots, with their relief."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from eyefind.model.network import PARTS
from eyefind.workshop.traced.mesh import Ints, Mesh, frames, grid_faces, tube
from eyefind.workshop.traced.noise3 import Floats, Noise, smooth_step
from eyefind.workshop.traced.parts import TAIL_MM, Root

INSIDE_MM = 3.0
"""The skin begins so far inside the crown."""
LENTICEL_MM2 = 45.0
"""Skin for each lenticel."""
BODY, NECK, SPENT, THIN, SOFT = (
    100 * PARTS.index(part)
    for part in ("body", "neck", "spent_parent", "thin_root", "soft")
)


@dataclass
class Skin:
    """What the painter must know of each vertex of a root's skin.

    Attributes
    ----------
    straight : (N, 3) array
        Place if the root were straight: along, and two across; mm.
    along : (N,) array
        Place along the root.
    relief : (N,) array
        How far the fine relief stands out, mm.
    lenticel, scar, soft, crack : (N,) array
        Shares of each mark.
    """

    straight: Floats
    along: Floats
    relief: Floats
    lenticel: Floats
    scar: Floats
    soft: Floats
    crack: Floats


def root_skin(
    root: Root, rng: np.random.Generator, noise: Noise, edge_mm: float
) -> tuple[Mesh, Skin]:
    """Raise a root's skin.

    Parameters
    ----------
    root : Root
        A tuber of any kind.
    rng : numpy.random.Generator
        Places the marks; draws the same numbers whatever the edge.
    noise : Noise
        Makes the relief.
    edge_mm : float
        Distance of vertices.

    Returns
    -------
    mesh : Mesh
        Labelled, without colours.
    skin : Skin
        For the painter.
    """
    shift = rng.uniform(0, 500, 3)
    tilt = rng.uniform(0, np.pi, 2)
    marks = _marks(root, rng)
    along = np.arange(max(root.leaves - INSIDE_MM, 0), root.along[-1], edge_mm)
    path = np.stack([np.interp(along, root.along, p) for p in root.path.T], -1)
    radius = np.interp(along, root.along, root.radius)
    radius[-1] = 0.02
    points = max(int(2 * np.pi * radius.max() / edge_mm), 12)
    angle = 2 * np.pi * np.arange(points) / points
    oval = root.flat * smooth_step(2, 25, along - root.leaves)
    turned = angle - tilt[0] - 0.006 * along[:, None]
    section = 1 + oval[:, None] * (
        np.cos(2 * turned) + 0.4 * np.cos(3 * turned - tilt[1])
    )
    ring = radius[:, None] * section
    flat = np.repeat(along[:, None], points, axis=1)
    straight = np.stack([flat, ring * np.cos(angle), ring * np.sin(angle)], -1).reshape(
        -1, 3
    )
    thick = np.repeat(radius, points)
    skin = Skin(straight, flat.reshape(-1), *_relief(root, straight, thick, marks,
                                                     noise, shift))  # fmt: skip
    coarse = _coarse(root, straight, thick, noise, shift)
    _, first, second = frames(path)
    out = (
        first[:, None] * np.cos(angle)[None, :, None]
        + second[:, None] * np.sin(angle)[None, :, None]
    )
    full = ring + (coarse + skin.relief).reshape(ring.shape)
    places = path[:, None] + out * np.maximum(full, 0.01)[..., None]
    mesh = Mesh(places.reshape(-1, 3), grid_faces(len(along), points))
    mesh.label = _labels(root, mesh.faces, skin)
    return mesh, skin


@dataclass(frozen=True)
class _Marks:
    lenticels: Floats
    sizes: Floats
    scars: Floats
    scar_sizes: Floats
    soft_at: Floats
    soft_size: float


def _marks(root: Root, rng: np.random.Generator) -> _Marks:
    length = root.along[-1] - root.leaves
    area = 2 * np.pi * float(np.trapezoid(root.radius, root.along))
    count, scars = int(area / LENTICEL_MM2), int(rng.integers(3, 18))

    def scattered(number: int) -> Floats:
        along = root.leaves + 2 + (length - 2) * rng.uniform(0, 1, number)
        angle = rng.uniform(0, 2 * np.pi, number)
        thick = np.interp(along, root.along, root.radius)
        return np.stack([along, thick * np.cos(angle), thick * np.sin(angle)], -1)

    middle = rng.uniform(0.3, 0.8) * (root.end - root.shoulder) + root.shoulder
    angle = rng.uniform(0, 2 * np.pi)
    thick = root.thickness(middle)
    return _Marks(
        scattered(count),
        rng.uniform(0.45, 1.15, max(count, 1)),
        scattered(scars),
        rng.uniform(0.5, 1.3, max(scars, 1)),
        np.array([middle, thick * np.cos(angle), thick * np.sin(angle)]),
        float(thick * rng.uniform(0.6, 1.3)),
    )


def _spots(places: Floats, sizes: Floats, squeeze: Floats, straight: Floats) -> Floats:
    """1 in the middle of the nearest spot, 0 away from all, (N,)."""
    if not len(places):
        return np.zeros(len(straight))
    away, index = cKDTree(places * squeeze).query(straight * squeeze)
    return 1 - smooth_step(0.35, 1.0, away / sizes[index])


def _relief(
    root: Root, straight: Floats, thick: Floats, marks: _Marks, noise: Noise,
    shift: Floats,
) -> tuple[Floats, Floats, Floats, Floats, Floats]:  # fmt: skip
    """Return fine relief in mm and the shares of the marks."""
    place = straight + shift
    strength = smooth_step(0.5, 6, thick)
    rings = noise.at(place, np.array([1.3, 9.0, 9.0]))
    lines = noise.at(place, np.array([16.0, 1.5, 1.5]))
    fine = noise.rough(place, 1.4, 2)
    patch = 0.5 + 0.5 * np.tanh(1.5 * noise.at(place, 18.0))
    relief = 0.07 * rings * patch + 0.06 * lines * (1 - patch) + 0.03 * fine
    if root.kind == "spent_parent":
        folds = np.abs(noise.at(place, np.array([30.0, 4.5, 4.5])))
        relief += 0.07 * thick * (folds - 0.8) + 0.12 * rings
    relief = relief * (0.35 + 0.65 * strength)
    # Lenticels of a root lie across it.
    lenticel = _spots(marks.lenticels, marks.sizes, np.array([2.2, 1, 1]), straight)
    scar = _spots(marks.scars, marks.scar_sizes, np.array([1.3, 1, 1]), straight)
    lenticel, scar = lenticel * strength, scar * strength
    relief += 0.12 * lenticel - 0.35 * scar
    soft = np.zeros(len(straight))
    if root.soft:
        away = np.linalg.norm(straight - marks.soft_at, axis=1) / marks.soft_size
        soft = 1 - smooth_step(0.75, 1.05, away + 0.16 * noise.rough(place, 7.0, 3))
        relief -= soft * (0.13 * thick + 0.1 * fine)
    crack = np.zeros(len(straight))
    if root.broken:
        ragged = straight[:, 0] - root.neck + 1.1 * noise.rough(place, 3.0, 3)
        crack = np.exp(-((ragged / 0.8) ** 2))
        relief -= crack * np.minimum(0.3 * thick, 1.3)
    return relief, lenticel, scar, soft, crack


def _coarse(
    root: Root, straight: Floats, thick: Floats, noise: Noise, shift: Floats
) -> Floats:
    """Return the uneven swelling of a root, mm."""
    place = straight + shift
    wide = max(float(thick.max()), 4.0)
    uneven = noise.rough(place, 1.5 * wide, 2) + 0.35 * noise.at(place, 0.5 * wide)
    waists = noise.at(place, np.array([0.9 * wide, 60.0, 60.0]))
    grown = thick * smooth_step(3, 0.6 * wide, thick)
    coarse = root.lumps * grown * (0.8 * uneven + 0.5 * waists)
    if root.kind == "spent_parent":
        coarse -= 0.16 * grown * np.maximum(noise.at(place, 1.3 * wide), 0)
    return coarse


def _labels(root: Root, faces: Ints, skin: Skin) -> Ints:
    along = skin.along[faces].mean(axis=1)
    label = np.full(len(faces), BODY)
    label[along < root.shoulder] = NECK
    if root.kind == "spent_parent":
        label[:] = SPENT
    label[skin.soft[faces].mean(axis=1) > 0.5] = SOFT
    label[(along > root.end) & (along > tail_start(root))] = THIN
    return label + root.number


def tail_start(root: Root) -> float:
    """Return where the thin end begins, the root's length if it has none."""
    thin = (root.along > root.end) & (root.radius < 3.0)
    return float(root.along[np.argmax(thin)]) if thin.any() else float(root.along[-1])


def has_rat_tail(root: Root) -> bool:
    """Whether the thin end is long enough to be told as a rat's tail."""
    return float(root.along[-1]) - tail_start(root) >= TAIL_MM


def hair_mesh(root: Root, count: int) -> Mesh:
    """Return a rat's tail (instance 60 + `count`) or a hair root (instance 0)."""
    mesh = tube(root.path, root.radius, 10 if root.kind == "rat_tail" else 5)
    return mesh.labelled(THIN + (60 + count if root.kind == "rat_tail" else 0))
