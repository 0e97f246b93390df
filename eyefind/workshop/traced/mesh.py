"""Triangle meshes with colours and labels, and how to loft and dome them."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from eyefind.workshop.traced.noise3 import Floats

Ints = NDArray[np.int64]


@dataclass
class Mesh:
    """Triangles.

    Attributes
    ----------
    vertices : (N, 3) array
        Places, mm.
    faces : (M, 3) int array
        Corners, counter-clockwise from outside.
    colour : (N, 3) array
        Linear RGB reflectance.
    rough, metal, coat : (N,) array
        Roughness, metallic share and clear coat, 0 to 1.
    label : (M,) int array
        Value in the label image.
    eye : (M,) int array
        Number of the eye it belongs to, -1 for none.
    """

    vertices: Floats
    faces: Ints
    colour: Floats = field(default_factory=lambda: np.zeros((0, 3)))
    rough: Floats = field(default_factory=lambda: np.zeros(0))
    metal: Floats = field(default_factory=lambda: np.zeros(0))
    coat: Floats = field(default_factory=lambda: np.zeros(0))
    label: Ints = field(default_factory=lambda: np.zeros(0, np.int64))
    eye: Ints = field(default_factory=lambda: np.zeros(0, np.int64))

    def __post_init__(self) -> None:
        count = len(self.vertices)
        if len(self.colour) != count:
            self.colour = np.full((count, 3), 0.5)
        if len(self.rough) != count:
            self.rough = np.full(count, 0.8)
        if len(self.metal) != count:
            self.metal = np.zeros(count)
        if len(self.coat) != count:
            self.coat = np.zeros(count)
        if len(self.label) != len(self.faces):
            self.label = np.zeros(len(self.faces), np.int64)
        if len(self.eye) != len(self.faces):
            self.eye = np.full(len(self.faces), -1)

    def normals(self) -> Floats:
        """Return the vertices' outward unit normals, (N, 3)."""
        corners = self.vertices[self.faces]
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        total = np.zeros_like(self.vertices)
        for axis in range(3):
            for corner in range(3):
                total[:, axis] += np.bincount(
                    self.faces[:, corner], across[:, axis], len(self.vertices)
                )
        return unit(total)

    def painted(self, colour: Sequence[float] | Floats, rough: float) -> "Mesh":
        """Return itself, in one colour and roughness."""
        self.colour = np.broadcast_to(colour, self.vertices.shape).copy()
        self.rough = np.full(len(self.vertices), rough)
        return self

    def labelled(self, label: int) -> "Mesh":
        """Return itself, with one label."""
        self.label = np.full(len(self.faces), label)
        return self

    def moved(self, turn: Floats, shift: Floats) -> "Mesh":
        """Return itself, turned by a (3, 3) rotation and then shifted by mm."""
        self.vertices = self.vertices @ turn.T + shift
        return self


def unit(vectors: Floats) -> Floats:
    """Return vectors of length 1 along the last axis."""
    return np.asarray(
        vectors / np.maximum(np.linalg.norm(vectors, axis=-1, keepdims=True), 1e-12)
    )


def joined(meshes: Sequence[Mesh]) -> Mesh:
    """Return one mesh of many."""
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes[:-1])])
    pairs = zip(meshes, starts, strict=True)
    return Mesh(
        np.concatenate([mesh.vertices for mesh in meshes]),
        np.concatenate([mesh.faces + start for mesh, start in pairs]),
        *(
            np.concatenate([getattr(mesh, name) for mesh in meshes])
            for name in ("colour", "rough", "metal", "coat", "label", "eye")
        ),
    )


def frames(path: Floats) -> tuple[Floats, Floats, Floats]:
    """Return directions along and two across a path, each (N, 3), without twist."""
    along = unit(np.gradient(path, axis=0))
    first = np.empty_like(along)
    guess = np.eye(3)[np.argmin(np.abs(along[0]))]
    for index, way in enumerate(along):
        guess = guess - way * (guess @ way)
        guess /= np.linalg.norm(guess)
        first[index] = guess
    return along, first, np.cross(along, first)


def grid_faces(rows: int, cols: int) -> Ints:
    """Return triangles of `rows` rings of `cols` points that close around."""
    row, col = np.meshgrid(np.arange(rows - 1), np.arange(cols), indexing="ij")
    after = (col + 1) % cols
    one, two = row * cols + col, row * cols + after
    three, four = one + cols, two + cols
    lower = np.stack([one, two, three], -1).reshape(-1, 3)
    upper = np.stack([two, four, three], -1).reshape(-1, 3)
    return np.concatenate([lower, upper])


def loft(path: Floats, radius: Floats) -> Mesh:
    """Return the skin around a path.

    Parameters
    ----------
    path : (N, 3) array
        Middle of each ring, mm.
    radius : (N, K) array
        Radii of its points, mm.

    Returns
    -------
    Mesh
        Vertex `i * K + k` is point k of ring i; the ends are open.
    """
    rings, points = radius.shape
    _, first, second = frames(path)
    angle = 2 * np.pi * np.arange(points) / points
    out = (
        first[:, None] * np.cos(angle)[None, :, None]
        + second[:, None] * np.sin(angle)[None, :, None]
    )
    places = path[:, None] + out * radius[..., None]
    return Mesh(places.reshape(-1, 3), grid_faces(rings, points))


def tube(path: Floats, radius: Floats, sides: int = 8) -> Mesh:
    """Return a round tube of (N,) radii around a path of (N, 3)."""
    return loft(path, np.repeat(radius[:, None], sides, axis=1))


def resampled(path: Floats, step_mm: float) -> tuple[Floats, Floats]:
    """Return a path again at even steps, (N, 3), with its place along, (N,) mm."""
    along = np.concatenate(
        [[0.0], np.linalg.norm(np.diff(path, axis=0), axis=1).cumsum()]
    )
    count = max(3, round(along[-1] / step_mm) + 1)
    places = np.linspace(0, along[-1], count)
    return np.stack([np.interp(places, along, p) for p in path.T], -1), places


def box(size: Sequence[float]) -> Mesh:
    """Return a box of three edge lengths, mm, around the origin."""
    corners = np.array(
        [(x, y, z) for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)]
    ) * np.asarray(size)
    sides = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4)]
    sides.append((1, 5, 7, 3))
    # Corners are not shared, so that edges stay sharp.
    vertices = corners[np.array(sides).reshape(-1)]
    start = 4 * np.arange(6)[:, None]
    faces = np.concatenate([start + corner for corner in ([0, 1, 2], [0, 2, 3])])
    return Mesh(vertices, faces)


def divided(mesh: Mesh) -> Mesh:
    """Return a bare mesh with each triangle cut into four."""
    edges = np.sort(mesh.faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    pairs, which = np.unique(edges, axis=0, return_inverse=True)
    middles = mesh.vertices[pairs].mean(axis=1)
    ab, bc, ca = (which.reshape(-1, 3) + len(mesh.vertices)).T
    a, b, c = mesh.faces.T
    faces = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return Mesh(
        np.concatenate([mesh.vertices, middles]),
        np.concatenate([np.stack(face, -1) for face in faces]),
    )


def turn_to(way: Floats) -> Floats:
    """Return a rotation, (3, 3), that takes +z to a unit vector."""
    side = np.eye(3)[np.argmin(np.abs(way))]
    x = unit(np.cross(side, way))
    return np.stack([x, np.cross(way, x), way], axis=1)
