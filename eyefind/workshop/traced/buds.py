"""Eyes on the collar, and all that only looks like them."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.spatial import cKDTree

from eyefind.workshop.traced.crown import near_roots
from eyefind.workshop.traced.mesh import Mesh, grid_faces, turn_to, unit
from eyefind.workshop.traced.noise3 import Floats, Noise, mix, smooth_step
from eyefind.workshop.traced.parts import Plan
from eyefind.workshop.traced.surface import CROWN, FLESH, NECK, Coat

RINGS, SPOKES = 20, 36
EyeColour = Literal["skin", "pale", "pink", "red", "green"]
EYE_COLOURS: dict[EyeColour, tuple[float, float, float]] = {
    "skin": (0.36, 0.24, 0.14),
    "pale": (0.6, 0.5, 0.33),
    "pink": (0.52, 0.23, 0.2),
    "red": (0.3, 0.055, 0.06),
    "green": (0.22, 0.28, 0.075),
}
SHARES = [0.3, 0.27, 0.17, 0.12, 0.14]
NO_SPOTS = np.zeros(0, int)
EYES_A_TUBER = [0.27, 0.31, 0.2, 0.12, 0.06, 0.04]
APART = 1.25
"""Least distance of two marks, as a share of the sum of their diameters."""


@dataclass(frozen=True)
class Bud:
    """An eye.

    Attributes
    ----------
    place, normal : (3,) array
        Middle of its foot, and which way it looks.
    radius, height : float
        Size, mm.
    colour : str
        Kind of colour.
    owner : int
        Instance of the tuber on whose collar it sits.
    sprouting : bool
        Whether it has begun to grow.
    """

    place: Floats
    normal: Floats
    radius: float
    height: float
    colour: EyeColour
    owner: int
    sprouting: bool


def grow_buds(
    plan: Plan, crown: Mesh, coat: Coat, rng: np.random.Generator, noise: Noise
) -> tuple[list[Bud], list[Mesh]]:
    """Put eyes on the crown's collar; the bark swells under them, in place."""
    number, beyond = near_roots(plan, crown.vertices)
    normal = crown.normals()
    spots = _collar_spots(plan, crown, number, beyond, normal)
    buds: list[Bud] = []
    meshes = []
    main: EyeColour = list(EYE_COLOURS)[rng.choice(5, p=SHARES)]
    for root in plan.tubers():
        if root.kind != "tuber":
            continue
        odds = np.array(EYES_A_TUBER)
        for _ in range(int(rng.choice(6, p=odds / odds.sum()))):
            spot = _free_spot(rng, spots.get(root.number, NO_SPOTS), crown, buds)
            if spot is None:
                continue
            bud = _draw(
                rng, plan, crown.vertices[spot], normal[spot], root.number, main
            )
            buds.append(bud)
    for index, bud in enumerate(buds):
        _swell(crown, bud)
        mesh = _bud_mesh(bud, crown, plan, coat, rng, noise)
        mesh.label[:] = NECK + bud.owner if _on_neck(plan, bud.place) else CROWN
        mesh.eye[:] = index
        meshes.append(mesh)
    return buds, meshes


def _on_neck(plan: Plan, place: Floats) -> bool:
    return bool(near_roots(plan, place[None])[1][0] > 1.0)


def _collar_spots(
    plan: Plan, crown: Mesh, number: np.ndarray, beyond: Floats, normal: Floats
) -> dict[int, np.ndarray]:
    """Vertices of each tuber's share of the collar that lie bare."""
    place = crown.vertices
    collar = (beyond > -7) & (beyond < 2.2)
    by_stem = np.zeros(len(place), bool)
    for stem in plan.stems:
        arm = place - stem.base
        height = arm @ stem.way
        aside = np.linalg.norm(arm - height[:, None] * stem.way, axis=1)
        level = (height > 0.25 * plan.size) & (height < 0.5 * plan.size + 6)
        by_stem |= (aside < 1.35 * stem.radius + 2) & level
    # Buds sit where leaves once stood: on the stem's side of a neck.
    looks_up = normal[:, 2] > -0.35
    may = (collar | by_stem) & looks_up
    outside = np.flatnonzero(may)
    ahead = place[outside] + 1.6 * normal[outside]
    bare = np.ones(len(outside), bool)
    for root in plan.tubers():
        away, index = cKDTree(root.path).query(ahead)
        bare &= away > root.radius[index] + 0.35
    outside = outside[bare]
    owner = number[outside]
    roots = {r.number: r for r in plan.tubers() if r.kind == "tuber"}
    if not roots:
        return {}
    doors = np.array([r.place(r.leaves) for r in roots.values()])
    nearest = np.array(list(roots))[cKDTree(doors).query(place[outside])[1]]
    owner = np.where(np.isin(owner, list(roots)), owner, nearest)
    return {key: outside[owner == key] for key in roots}


def _free_spot(
    rng: np.random.Generator, spots: np.ndarray, crown: Mesh, buds: list[Bud]
) -> int | None:
    for _ in range(12 if len(spots) else 0):
        spot = int(spots[rng.integers(len(spots))])
        place = crown.vertices[spot]
        if all(np.linalg.norm(place - b.place) > 2 * APART * b.radius for b in buds):
            return spot
    return None


def _draw(
    rng: np.random.Generator, plan: Plan, place: Floats, normal: Floats, owner: int,
    main: EyeColour,
) -> Bud:  # fmt: skip
    size = float(np.clip(rng.lognormal(np.log(2.5), 0.38) * plan.eye_habit[1] ** 0.5,
                         1.0, 6.0))  # fmt: skip
    colour = main if rng.random() < 0.65 else list(EYE_COLOURS)[rng.choice(5, p=SHARES)]
    sprouting = bool(rng.random() < 0.04 + 0.22 * (plan.eye_habit[0] > 0.7))
    if sprouting:
        size = max(size, 2.2)
        colour = colour if colour != "skin" else "pale"
    radius = size / 2
    shape = rng.uniform(1.3, 3.2) if sprouting else rng.uniform(0.45, 1.15)
    lean = normal + (0.6 if sprouting else 0.2) * np.array([0, 0, 1])
    return Bud(place, unit(lean), radius, radius * shape, colour, owner, sprouting)


def _swell(crown: Mesh, bud: Bud) -> None:
    """Raise a mound under an eye, and a ring's groove around it."""
    arm = crown.vertices - bud.place
    away = np.linalg.norm(arm, axis=1) / bud.radius
    near = away < 2.4
    share = away[near]
    mound = 0.28 * (1 - (share / 2.4) ** 2) ** 2
    groove = 0.2 * np.exp(-(((share - 1.15) / 0.18) ** 2))
    rise = bud.radius * (mound - groove)
    crown.vertices[near] += rise[:, None] * bud.normal
    crown.colour[near] *= 1 - 0.4 * np.exp(-(((share - 1.12) / 0.17) ** 2))[:, None]


def _dome(
    radius: float, height: float, power: float, skirt: float
) -> tuple[Floats, Floats, Floats]:
    """Return out, angle and height of the vertices of a dome with a skirt below."""
    out = np.concatenate([np.linspace(0.02, 1, RINGS - 3), [1.04, 1.1, 1.15]])
    top = np.sqrt(np.clip(1 - out**power, 0, 1)) if power > 1.5 else 1 - out
    top = np.maximum(top, 0) * height
    top[-3:] = -np.array([0.3, 0.7, 1.2]) * skirt
    angle = 2 * np.pi * np.arange(SPOKES) / SPOKES
    ring = np.repeat(out[:, None], SPOKES, 1)
    turn = np.repeat(angle[None], RINGS, 0)
    high = np.repeat(top[:, None], SPOKES, 1)
    return ring.ravel(), turn.ravel(), high.ravel()


def _set(out: Floats, turn: Floats, high: Floats, radius: float) -> Mesh:
    places = np.stack(
        [out * radius * np.cos(turn), out * radius * np.sin(turn), high], -1
    )
    # Rings run from the middle outwards and down, so faces must be turned over.
    return Mesh(places, grid_faces(RINGS, SPOKES)[:, ::-1])


def _bud_mesh(
    bud: Bud, crown: Mesh, plan: Plan, coat: Coat, rng: np.random.Generator,
    noise: Noise,
) -> Mesh:  # fmt: skip
    """Return a dome or cone of overlapping scales that comes to a point."""
    power = rng.uniform(1.6, 2.6)
    out, turn, high = _dome(bud.radius, bud.height, power, 0.6 * bud.radius)
    scales = rng.integers(2, 5)
    spin, sharp = rng.uniform(0, 2 * np.pi), rng.uniform(0.0, 0.35)
    phase = (scales * (turn + spin) / (2 * np.pi) + 1.3 * out) % 1.0
    lip = smooth_step(0.0, 0.25, phase) * (1 - phase)
    clear = smooth_step(0.15, 0.4, out) * smooth_step(1.05, 0.85, out)
    step = lip * clear * rng.uniform(0.25, 1.0)
    high = high + 0.12 * bud.radius * step
    high = high + sharp * bud.height * np.clip(1 - out / 0.45, 0, 1) ** 1.5
    oval = 1 + rng.uniform(0, 0.25) * np.cos(2 * (turn - spin))
    mesh = _set(out * oval, turn, high, bud.radius)
    lumpy = noise.rough(mesh.vertices + bud.place + 60, 0.9 * bud.radius, 2)
    mesh.vertices[:, 2] += 0.035 * bud.radius * lumpy * smooth_step(0, 0.3, high)
    if bud.sprouting:
        bend = np.clip(high / bud.height, 0, 1) ** 2 * 0.4 * bud.radius
        mesh.vertices[:, 0] += bend * np.cos(spin)
    share = np.clip(high / max(bud.height, 0.1), 0, 1)
    around = _local(crown, bud.place, 1.6 * bud.radius)
    own = np.array(EYE_COLOURS[bud.colour]) * rng.uniform(0.8, 1.2)
    if bud.colour == "skin":
        own = 0.45 * around * rng.uniform(0.95, 1.4) + 0.55 * own * 0.85
    faded = rng.uniform(0.0, 0.55) if not bud.sprouting else rng.uniform(0, 0.15)
    own = own * (1 - faded) + around * faded
    colour = mix(around * np.ones_like(mesh.vertices), own,
                 smooth_step(0.0, 0.4, share + 0.1 * lumpy))  # fmt: skip
    tip = np.array([0.36, 0.3, 0.12]) if bud.colour == "green" else own * 0.75
    colour = mix(colour, tip, 0.6 * smooth_step(0.75, 1.05, share))
    colour *= (1 - 0.35 * clear * (phase < 0.14) + 0.07 * lumpy)[:, None]
    mesh.colour = np.clip(colour * (0.4 + 0.6 * coat.shade), 0.004, 0.9)
    mesh.rough[:] = np.clip(coat.rough - 0.12, 0.25, 0.9)
    mesh.coat[:] = coat.clear * 0.8
    return mesh.moved(turn_to(bud.normal), bud.place + 0.12 * bud.radius * bud.normal)


def _local(mesh: Mesh, place: Floats, reach: float) -> Floats:
    near = np.linalg.norm(mesh.vertices - place, axis=1) < max(reach, 0.8)
    return np.asarray(mesh.colour[near if near.any() else slice(None)].mean(axis=0))


FALSE = ("knob", "clod", "scar", "nick", "stub", "wart")
ON_CROWN = [0.28, 0.22, 0.16, 0.14, 0.12, 0.08]
ON_BODY = [0.08, 0.22, 0.2, 0.14, 0.1, 0.26]


def look_alikes(
    hosts: list[Mesh], crown: Mesh, buds: list[Bud], coat: Coat,
    rng: np.random.Generator, noise: Noise,
) -> list[Mesh]:  # fmt: skip
    """Strew what is no eye over crown and bodies: three to ten for every eye."""
    count = int(np.clip(len(buds) * rng.uniform(3, 10), 20, 130))
    normals = {id(mesh): mesh.normals() for mesh in [crown, *hosts]}
    taken = np.array([bud.place for bud in buds]).reshape(-1, 3)
    meshes = []
    for _ in range(count):
        on_crown = rng.random() < 0.5
        host = crown if on_crown else hosts[rng.integers(len(hosts))]
        kind = FALSE[rng.choice(6, p=ON_CROWN if on_crown else ON_BODY)]
        face = int(rng.integers(len(host.faces)))
        spot = int(host.faces[face, 0])
        place, normal = host.vertices[spot], normals[id(host)][spot]
        radius = float(np.clip(rng.lognormal(np.log(1.2), 0.4), 0.4, 3.4))
        if len(taken) and np.linalg.norm(taken - place, axis=1).min() < 2.0 + radius:
            continue
        mesh = _false_mesh(kind, radius, host, place, coat, rng, noise)
        mesh.label[:] = host.label[face]
        meshes.append(mesh.moved(turn_to(normal), place))
    meshes += [_crumb(bud, coat, rng, noise) for bud in buds if rng.random() < 0.12]
    return meshes


# shape: height as a share of the radius (low, high), how uneven, power of the profile
LOOKS = {
    "knob": (0.3, 1.1, 0.22, 2.0),
    "clod": (0.5, 1.0, 0.4, 2.0),
    "scar": (0.08, 0.25, 0.1, 2.0),
    "nick": (0.03, 0.1, 0.05, 6.0),
    "stub": (0.8, 2.2, 0.08, 9.0),
    "wart": (0.2, 0.5, 0.12, 2.0),
}


def _false_mesh(
    kind: str, radius: float, host: Mesh, place: Floats, coat: Coat,
    rng: np.random.Generator, noise: Noise,
) -> Mesh:  # fmt: skip
    low, high_share, uneven, power = LOOKS[kind]
    if kind in ("stub", "wart"):
        radius *= 0.6
    height = radius * rng.uniform(low, high_share)
    out, turn, high = _dome(radius, height, power, 0.7 * radius)
    squeeze = rng.uniform(0.25, 0.6) if kind == "nick" else rng.uniform(0.7, 1)
    around = _local(host, place, 1.3 * radius)
    mesh = _set(out, turn, high, radius)
    lumpy = noise.rough(mesh.vertices + place, radius, 3)
    mesh.vertices *= 1 + uneven * lumpy[:, None]
    mesh.vertices[:, 0] *= squeeze
    hues = {
        "knob": around * rng.uniform(0.75, 1.3),
        "clod": coat.soil_hue * rng.uniform(0.7, 1.5),
        "scar": around * rng.uniform(0.35, 0.8),
        "nick": FLESH * rng.uniform(0.7, 1.05),
        "stub": around * rng.uniform(0.6, 1.1),
        "wart": around * rng.uniform(0.9, 1.5),
    }
    hue = np.clip(hues[kind], 0.005, 0.8)
    edge = smooth_step(1.0, 0.75, out)
    colour = mix(around * np.ones_like(mesh.vertices), hue, edge)
    if kind == "scar":
        colour = mix(colour, around * 0.3, np.exp(-(((out - 0.75) / 0.15) ** 2)))
    if kind == "stub":
        colour = mix(colour, np.array([0.05, 0.035, 0.025]), smooth_step(0.8, 0.5, out))
    mesh.colour = np.clip(colour * (1 + 0.12 * lumpy)[:, None], 0.004, 0.85)
    mesh.rough[:] = 0.95 if kind == "clod" else coat.rough
    mesh.coat[:] = 0.0 if kind == "clod" else 0.8 * coat.clear
    return mesh


def _crumb(bud: Bud, coat: Coat, rng: np.random.Generator, noise: Noise) -> Mesh:
    """Return a crumb of soil that half hides an eye."""
    radius = bud.radius * rng.uniform(0.6, 1.0)
    out, turn, high = _dome(radius, 0.9 * radius, 2.0, radius)
    mesh = _set(out, turn, high, radius)
    lumpy = noise.rough(mesh.vertices + 5 * bud.place, 0.8 * radius, 3)
    mesh.vertices *= 1 + 0.35 * lumpy[:, None]
    mesh.painted(coat.soil_hue, 0.95).labelled(CROWN)
    mesh.colour *= (1 + 0.2 * lumpy)[:, None]
    mesh.colour = np.clip(mesh.colour, 0.005, 0.5)
    side = unit(np.cross(bud.normal, rng.normal(0, 1, 3)))
    shift = side * bud.radius * rng.uniform(0.6, 1.1) + 0.3 * bud.height * bud.normal
    return mesh.moved(turn_to(bud.normal), bud.place + shift)
