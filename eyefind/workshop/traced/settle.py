"""Pushes the tubers apart and lays the clump on the bench."""

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import ConvexHull

from eyefind.workshop.traced.mesh import turn_to, unit
from eyefind.workshop.traced.noise3 import Floats
from eyefind.workshop.traced.parts import Plan, Root

ROUNDS = 40
FREE_MM = 6.0
"""So far from the crown a root begins to give way."""


def push_apart(plan: Plan) -> None:
    """Bend tubers that lie in one another, and in the stems, out of each other."""
    roots = [root for root in plan.tubers() if root.attached_to == "crown"]
    posts = [
        stem.base + stem.way * np.linspace(0.3, 1, 8)[:, None] * stem.length
        for stem in plan.stems
    ]
    for _ in range(ROUNDS):
        for number, one in enumerate(roots):
            for other in roots[number + 1 :]:
                _part(one, other)
            for stem, post in zip(plan.stems, posts, strict=True):
                _shove(one, post, np.full(len(post), stem.radius + 2))
    for root in roots:
        _ease(root)
    for root in plan.tubers():
        if root.attached_to != "crown":
            host = plan.roots[int(root.attached_to[1:]) - 1]
            near = np.argmin(np.linalg.norm(host.path - root.path[0], axis=1))
            root.path += host.path[near] - root.path[0]


def _ease(root: Root) -> None:
    """Take bends out that are tighter than the root is thick; a crack may stay."""
    ways = unit(np.diff(root.path, axis=0))
    hinge = int(np.argmax(root.along > root.neck)) if root.broken else len(ways)
    wide = float(root.radius.max()) / 4 + 2
    for piece in (slice(0, hinge), slice(hinge, None)):
        if len(ways[piece]):
            ways[piece] = gaussian_filter1d(ways[piece], wide, axis=0, mode="nearest")
    steps = unit(ways) * np.diff(root.along)[:, None]
    start = root.path[:1]
    root.path = np.concatenate([start, start + np.cumsum(steps, axis=0)])


def _part(one: Root, other: Root) -> None:
    push = _push(one.path, one.radius, other.path, other.radius)
    back = _push(other.path, other.radius, one.path, one.radius)
    _give(one, push)
    _give(other, back)


def _shove(root: Root, places: Floats, radius: Floats) -> None:
    _give(root, _push(root.path, root.radius, places, radius))


def _push(path: Floats, radius: Floats, there: Floats, thick: Floats) -> Floats:
    """How far each point should go to clear the other's points, (N, 3) mm."""
    apart = path[:, None] - there[None]
    away = np.linalg.norm(apart, axis=-1)
    deep = np.maximum(radius[:, None] + thick[None] - 0.5 - away, 0)
    worst = deep.argmax(axis=1)
    rows = np.arange(len(path))
    way = apart[rows, worst] / np.maximum(away[rows, worst], 1e-6)[:, None]
    return np.asarray(way * deep[rows, worst][:, None])


def _give(root: Root, push: Floats) -> None:
    """Move by a smoothed push, more and more beyond the crown, keeping lengths."""
    free = np.clip((root.along - root.leaves - FREE_MM) / 30, 0, 1)[:, None]
    kernel = np.hanning(15)
    kernel /= kernel.sum()
    pushed = np.stack([np.convolve(p, kernel, mode="same") for p in push.T], -1)
    # What the base gives, all that hangs beyond it gives too.
    carried = np.maximum.accumulate(np.linalg.norm(pushed, axis=1))
    short = np.maximum(np.linalg.norm(pushed, axis=1, keepdims=True), 1e-9)
    pushed += 0.5 * (carried[:, None] - short).clip(0) * _mean_way(push)
    moved = root.path + 0.3 * free * pushed
    steps = unit(np.diff(moved, axis=0)) * np.diff(root.along)[:, None]
    root.path = np.concatenate([moved[:1], moved[0] + np.cumsum(steps, axis=0)])


def _mean_way(push: Floats) -> Floats:
    total = push.sum(axis=0)
    return np.asarray(total / max(float(np.linalg.norm(total)), 1e-6))


def laid_down(plan: Plan, up: Floats) -> tuple[Floats, Floats]:
    """Return how the clump comes to rest: rotation (3, 3) and shift (3,), mm.

    It rests on a facet of its hull over which its weight lies, on that which is
    nearest to the wish `up`, the unit vector of the clump that should point upwards.
    """
    balls = [(root.path[::2], root.radius[::2]) for root in plan.tubers()]
    balls += [
        (stem.base + stem.way * np.linspace(0, 1, 6)[:, None] * stem.length,
         np.full(6, stem.radius)) for stem in plan.stems
    ]  # fmt: skip
    places = np.concatenate([place for place, _ in balls])
    radius = np.concatenate([thick for _, thick in balls])
    ring = _directions(48)
    skin = (places[:, None] + ring[None] * radius[:, None, None]).reshape(-1, 3)
    weight = np.average(places, axis=0, weights=radius**2)
    hull = ConvexHull(skin)
    normals, offsets = hull.equations[:, :3], hull.equations[:, 3]
    # Where the weight's line meets each facet's plane, and whether inside the facet.
    foot = weight - normals * (normals @ weight + offsets)[:, None]
    corners = skin[hull.simplices]
    stable = _inside(foot, corners, normals)
    close = -normals @ up
    best = int(np.argmax(np.where(stable, close, close - 3)))
    turn = turn_to(-normals[best]).T
    low = float((skin @ turn.T)[:, 2].min())
    middle = weight @ turn.T
    return turn, np.array([-middle[0], -middle[1], -low - 0.3])


def _directions(count: int) -> Floats:
    """Return `count` unit vectors spread evenly."""
    index = np.arange(count) + 0.5
    height = 1 - 2 * index / count
    angle = np.pi * (1 + 5**0.5) * index
    wide = np.sqrt(1 - height**2)
    return np.stack([wide * np.cos(angle), wide * np.sin(angle), height], -1)


def _inside(foot: Floats, corners: Floats, normals: Floats) -> np.ndarray:
    """Whether each foot lies in its triangle, (M,) bool."""
    signs = []
    for index in range(3):
        edge = corners[:, (index + 1) % 3] - corners[:, index]
        across = np.cross(edge, foot - corners[:, index])
        signs.append((across * normals).sum(axis=1))
    sides = np.array(signs)
    return np.asarray((sides >= 0).all(axis=0) | (sides <= 0).all(axis=0))
