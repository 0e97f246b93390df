"""The crown as a signed distance field made into a mesh, and the stems on it."""

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from skimage.measure import marching_cubes

from eyefind.workshop.traced.mesh import Mesh, divided, grid_faces, turn_to
from eyefind.workshop.traced.noise3 import Floats, Noise
from eyefind.workshop.traced.parts import Plan, Root, Stub

GRID_MM = 0.55
PAD_MM = 4.0
REACH_MM = 7.0
"""The crown's skin climbs so far along a neck."""
BLEND_MM = 3.2


def crown_mesh(plan: Plan, noise: Noise) -> Mesh:
    """Return the crown's bare mesh before its bark is raised, edges near 0.3 mm."""
    span = [root.place(a) for root in plan.tubers() for a in (0.0, root.leaves + 5)
            if root.attached_to == "crown"]  # fmt: skip
    span += [stub.base + stub.way * (stub.length + 3) for stub in plan.stumps]
    span += [lump.middle + s * lump.half for lump in plan.lumps for s in (-1, 1)]
    span += [s * np.full(3, plan.size * 0.8) for s in (-1, 1)]
    low, high = np.min(span, axis=0) - PAD_MM, np.max(span, axis=0) + PAD_MM
    high[2] = max(high[2], plan.size * 0.6 + 14)
    axes = [np.arange(a, b, GRID_MM) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), -1)
    depth = distance(plan, grid.reshape(-1, 3), noise).reshape(grid.shape[:3])
    depth[[0, -1]] = depth[:, [0, -1]] = depth[:, :, [0, -1]] = 1.0
    vertices, faces, _, _ = marching_cubes(depth, 0.0, spacing=(GRID_MM,) * 3)
    mesh = Mesh(vertices + low, faces.astype(np.int64))
    return divided(_largest(mesh))


def _largest(mesh: Mesh) -> Mesh:
    """Return the largest connected piece."""
    count = len(mesh.vertices)
    ends = mesh.faces[:, [0, 1, 1, 2]].reshape(-1, 2).T
    links = coo_matrix((np.ones(ends.shape[1]), tuple(ends)), (count, count))
    _, piece = connected_components(links, directed=False)
    keep = piece == np.bincount(piece).argmax()
    renumbered = np.cumsum(keep) - 1
    faces = mesh.faces[keep[mesh.faces[:, 0]]]
    return Mesh(mesh.vertices[keep], renumbered[faces])


def distance(plan: Plan, points: Floats, noise: Noise) -> Floats:
    """Return the distance from the crown's skin, negative inside, (N,) mm."""
    warped = points + 1.1 * np.stack(
        [noise.at(points + shift, 9.0) for shift in (0.0, 31.0, 57.0)], -1
    )
    depth = np.full(len(points), 99.0)
    for lump in plan.lumps:
        depth = _blend(depth, _ellipsoid(warped, lump.middle, lump.half))
    for stem in plan.stems:
        depth = _blend(depth, _flare(warped, stem, plan.size))
    for root in plan.tubers():
        if root.attached_to == "crown":
            _add_neck(depth, points, root)
    for stump in plan.stumps:
        depth = _blend(depth, _stump(points, stump), 2.0)
    for stump in [*plan.stumps, *plan.stems]:
        if stump.hollow:
            depth = np.maximum(depth, -_hole(points, stump))
    return depth


def _blend(one: Floats, other: Floats, width: float = BLEND_MM) -> Floats:
    share = np.clip(0.5 + 0.5 * (one - other) / width, 0, 1)
    return one * (1 - share) + other * share - width * share * (1 - share)


def _ellipsoid(points: Floats, middle: Floats, half: Floats) -> Floats:
    arm = points - middle
    inner = np.linalg.norm(arm / half, axis=1)
    steep = np.linalg.norm(arm / half**2, axis=1)
    return np.asarray(inner * (inner - 1) / np.maximum(steep, 1e-6))


def _flare(points: Floats, stem: Stub, size: float) -> Floats:
    arm = points - stem.base
    height = arm @ stem.way
    aside = np.linalg.norm(arm - height[:, None] * stem.way, axis=1)
    top = size * 0.5 + 9
    wide = stem.radius * (1.02 + 0.45 * np.clip(1 - height / top, 0, 1.5) ** 2)
    wide = wide - 2.0 * np.clip((height - 0.7 * top) / (0.3 * top), 0, 1)
    return np.asarray(np.maximum(np.maximum(aside - wide, height - top), -height - 3))


def _stump(points: Floats, stump: Stub) -> Floats:
    arm = points - stump.base
    height = arm @ stump.way
    aside = np.linalg.norm(arm - height[:, None] * stump.way, axis=1)
    wide = stump.radius * (1 + 0.25 * np.clip(1 - height / stump.length, 0, 1))
    cut = (arm - stump.length * stump.way) @ stump.slant
    return np.asarray(np.maximum(np.maximum(aside - wide, cut), -height))


def _hole(points: Floats, stump: Stub) -> Floats:
    arm = points - stump.base
    height = arm @ stump.way
    aside = np.linalg.norm(arm - height[:, None] * stump.way, axis=1)
    return np.asarray(np.maximum(aside - stump.hollow, 0.55 * stump.length - height))


def _add_neck(depth: Floats, points: Floats, root: Root) -> None:
    """Blend the beginning of a root in, in place."""
    along = np.arange(0.0, root.leaves + REACH_MM, 1.2)
    places = np.stack([np.interp(along, root.along, p) for p in root.path.T], -1)
    late = np.clip((along - root.leaves - 1) / (REACH_MM - 1), 0, 1)
    thick = np.interp(along, root.along, root.radius) * (1.13 - 0.33 * late)
    low = places.min(axis=0) - thick.max() - 2 * BLEND_MM
    high = places.max(axis=0) + thick.max() + 2 * BLEND_MM
    near = ((points > low) & (points < high)).all(axis=1)
    some = points[near]
    best = np.full(len(some), 99.0)
    for place, radius in zip(places, thick, strict=True):
        best = np.minimum(best, np.linalg.norm(some - place, axis=1) - radius)
    depth[near] = _blend(depth[near], best)


def near_roots(plan: Plan, points: Floats) -> tuple[Floats, Floats]:
    """Return which root is nearest to each point and how far along it.

    Parameters
    ----------
    plan : Plan
        The clump.
    points : (N, 3) array
        Places, mm.

    Returns
    -------
    number : (N,) int array
        Instance of the root whose skin is nearest.
    beyond : (N,) array
        Place along it less where it leaves the crown, mm; very low where no root's
        skin is near.
    """
    roots = [root for root in plan.tubers() if root.attached_to == "crown"]
    number = np.zeros(len(points), np.int64)
    beyond = np.full(len(points), -99.0)
    closest = np.full(len(points), 2.2)
    for root in roots:
        head = root.along < root.leaves + 25
        away, index = cKDTree(root.path[head]).query(points)
        gap = away - root.radius[head][index]
        mine = gap < closest
        closest = np.where(mine, gap, closest)
        number = np.where(mine, root.number, number)
        beyond = np.where(mine, root.along[index] - root.leaves, beyond)
    return np.asarray(number, float), np.asarray(beyond, float)


def stem_mesh(
    stem: Stub, size: float, noise: Noise, edge_mm: float
) -> tuple[Mesh, Floats]:
    """Return a hollow cut stem and, for each vertex, how deep in its wall it is.

    Parameters
    ----------
    stem : Stub
        A living stem.
    size : float
        Of the crown, mm.
    noise : Noise
        Makes its ridges.
    edge_mm : float
        Distance of vertices.

    Returns
    -------
    mesh : Mesh
        Without colours.
    depth : (N,) array
        Negative outside, 0 to the wall's thickness on the cut, more in the hollow; mm.
    """
    start = size * 0.2
    height = np.arange(start, stem.length, max(edge_mm, 0.5))
    points = max(int(2 * np.pi * stem.radius / edge_mm), 24)
    angle = 2 * np.pi * np.arange(points) / points
    circle = np.stack([np.cos(angle), np.sin(angle), np.zeros(points)], -1)
    ridges = 1 + 0.03 * noise.at(4 * circle, 2.6) + 0.015 * noise.at(9 * circle, 2.6)
    swell = 1 + 0.12 * np.exp(-(((height - stem.length * 0.72) / 4.5) ** 2))
    taper = 1.05 - 0.1 * (height - start) / (stem.length - start)
    outer = stem.radius * (swell * taper)[:, None] * ridges
    wall = stem.radius - stem.hollow
    # Rings across the cut, then down the hollow.
    inward = np.linspace(0, wall, max(int(wall / edge_mm), 4))
    cut = outer[-1] - inward[:, None] * (1 + 0.08 * noise.at(7 * circle, 3.0))
    fall = np.linspace(0, 0.5 * stem.length, 24)[1:]
    down = cut[-1] * (1 - 0.2 * fall / fall[-1])[:, None]
    radius = np.concatenate([outer, cut, down, np.full((1, points), 0.02)])
    drop = np.concatenate([np.zeros(len(cut)), fall, fall[-1:]])
    level = np.concatenate([height, height[-1] - drop])
    out = circle @ turn_to(stem.way).T
    places = stem.base + level[:, None, None] * stem.way + out * radius[..., None]
    mesh = Mesh(places.reshape(-1, 3), grid_faces(len(level), points))
    depth = np.concatenate([
        np.full(outer.size, -1.0),
        np.repeat(inward, points),
        np.full((len(fall) + 1) * points, wall + 5),
    ])  # fmt: skip
    _slant(mesh, stem, depth)
    return mesh, depth


def _slant(mesh: Mesh, stem: Stub, depth: Floats) -> None:
    """Sink what stands above the slanting cut down to it."""
    top = stem.base + stem.way * (stem.length - 0.25 * stem.radius)
    above = (mesh.vertices - top) @ stem.slant
    on_cut = (depth >= 0) & (depth <= stem.radius - stem.hollow)
    sinks = on_cut | ((above > 0) & (depth < 0))
    along = max(float(stem.way @ stem.slant), 0.5)
    mesh.vertices[sinks] -= (above[sinks] / along)[:, None] * stem.way


def is_cut(plan: Plan, points: Floats) -> Floats:
    """Return 1 on the cut faces of old stems, 0 elsewhere, (N,)."""
    share = np.zeros(len(points))
    for stump in plan.stumps:
        arm = points - stump.base
        off = (arm - stump.length * stump.way) @ stump.slant
        height = arm @ stump.way
        aside = np.linalg.norm(arm - height[:, None] * stump.way, axis=1)
        on = (np.abs(off) < 0.5) & (aside < 1.15 * stump.radius)
        share = np.where(on, 1.0, share)
        hollow = (aside < stump.hollow + 0.4) & (height > 0.5 * stump.length)
        share = np.where(hollow & (off < -0.5), 0.5, share)
    return share
