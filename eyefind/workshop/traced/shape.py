"""The plan of a clump: what hangs on what, how long, how thick, how bent (mm)."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from eyefind.workshop.traced.mesh import resampled, unit
from eyefind.workshop.traced.noise3 import Floats
from eyefind.workshop.traced.parts import Lump, Plan, Root, RootKind, Stub

STEP_MM = 2.0
"""Distance of the points of a root's path."""

# Radius over the body's length: at 0 it leaves the neck, at 1 it ends in the tip. Each
# row holds the share of the full radius at the places of `KNOTS`.
KNOTS = np.array([0.0, 0.08, 0.2, 0.35, 0.5, 0.65, 0.8, 0.91, 0.97, 1.0])
HABITS = {
    "carrot": [0.0, 0.55, 0.93, 1.0, 0.92, 0.78, 0.58, 0.36, 0.2, 0.0],
    "egg": [0.0, 0.3, 0.72, 0.97, 1.0, 0.94, 0.77, 0.5, 0.27, 0.0],
    "club": [0.0, 0.12, 0.32, 0.58, 0.83, 0.99, 0.96, 0.68, 0.38, 0.0],
    "spindle": [0.0, 0.2, 0.55, 0.88, 1.0, 0.9, 0.6, 0.3, 0.15, 0.0],
    "finger": [0.0, 0.5, 0.85, 0.97, 1.0, 0.98, 0.9, 0.66, 0.38, 0.0],
}


SKINS = [(0.44, 0.26, 0.125), (0.38, 0.225, 0.12), (0.5, 0.33, 0.18)]
SKINS += [(0.36, 0.19, 0.11), (0.42, 0.22, 0.14), (0.3, 0.2, 0.12)]


@dataclass(frozen=True)
class Habit:
    """What the tubers of a variety have in common."""

    shape: str
    length: float
    radius: float
    neck_radius: float
    neck_length: float
    bend: float
    tail: float


def plan_clump(rng: np.random.Generator) -> Plan:
    """Draw a clump."""
    size = rng.uniform(11, 19)
    habit = _habit(rng)
    plan = Plan(
        size,
        _lumps(rng, size),
        _stems(rng, size),
        _stumps(rng, size),
        [],
        ("brushed", "washed", "wet")[rng.choice(3, p=[0.4, 0.4, 0.2])],
        np.array(SKINS[rng.integers(len(SKINS))]) * rng.uniform(0.85, 1.1, 3),
        (rng.uniform(0, 1), rng.uniform(0.7, 1.5)),
    )
    count = int(rng.integers(5, 15))
    turn = rng.uniform(0, 2 * np.pi)
    for index in range(count):
        azimuth = turn + 2 * np.pi * (index + rng.uniform(-0.42, 0.42)) / count
        plan.roots.append(_tuber(rng, habit, plan, azimuth, index))
    for _ in range(rng.choice(3, p=[0.45, 0.43, 0.12])):
        plan.roots.append(_spent(rng, habit, plan))
    _extras(rng, plan)
    for number, root in enumerate(plan.roots, start=1):
        root.number = number
    return plan


def _habit(rng: np.random.Generator) -> Habit:
    shape = str(rng.choice(list(HABITS), p=[0.22, 0.22, 0.22, 0.2, 0.14]))
    radius = rng.uniform(9, 22) * (0.7 if shape == "finger" else 1)
    slim = rng.uniform(2.6, 5.0) if shape not in ("egg",) else rng.uniform(1.8, 3.2)
    return Habit(
        shape,
        float(np.clip(2 * radius * slim / 1.6, 45, 120)),
        radius,
        float(np.clip(rng.lognormal(np.log(4.0), 0.25), 2.2, 7)),
        float(np.clip(rng.lognormal(np.log(12), 0.55), 3, 42)),
        rng.uniform(0.1, 0.7),
        rng.uniform(0, 1),
    )


def _lumps(rng: np.random.Generator, size: float) -> list[Lump]:
    lumps = [Lump(np.zeros(3), size * np.array([0.72, 0.72, 0.66]))]
    for _ in range(int(rng.integers(3, 7))):
        middle = rng.normal(0, 0.42, 3) * size * np.array([1, 1, 0.7])
        lumps.append(Lump(middle, size * rng.uniform(0.28, 0.58, 3)))
    return lumps


def _way_out(lumps: list[Lump], stems: list[Stub], start: Floats, way: Floats) -> float:
    """Return how far a root goes from its start before it leaves the crown, mm."""
    along = np.arange(0.0, 60.0, 0.5)
    places = start + along[:, None] * way
    inside = np.zeros(len(along), bool)
    for lump in lumps:
        inside |= np.linalg.norm((places - lump.middle) / lump.half, axis=1) < 1
    for stem in stems:
        arm = places - stem.base
        height = arm @ stem.way
        aside = np.linalg.norm(arm - height[:, None] * stem.way, axis=1)
        inside |= (aside < 1.25 * stem.radius) & (height > -3)
    return float(along[inside].max(initial=2.0)) + 1.5


def _leaning(rng: np.random.Generator, lean: float) -> Floats:
    way = rng.normal(0, lean, 3)
    way[2] = 1.0
    return unit(way)


def _stems(rng: np.random.Generator, size: float) -> list[Stub]:
    stems = []
    count = 1 + int(rng.random() < 0.33)
    turn = rng.uniform(0, 2 * np.pi)
    for index in range(count):
        aside = 0.0 if count == 1 else size * rng.uniform(0.4, 0.6)
        angle = turn + np.pi * index
        base = np.array([aside * np.cos(angle), aside * np.sin(angle), size * 0.1])
        radius = rng.uniform(5.5, 12.5) * (0.8 if count == 2 else 1)
        way = unit(_leaning(rng, 0.16) + 0.25 * base / size)
        stems.append(
            Stub(
                base,
                way,
                size * 0.5 + rng.uniform(25, 75),
                radius,
                radius * rng.uniform(0.45, 0.72),
                unit(way + rng.normal(0, 0.13, 3)),
                float(np.clip(rng.normal(0.45, 0.35), 0, 1)),
            )
        )
    return stems


def _stumps(rng: np.random.Generator, size: float) -> list[Stub]:
    """Old stems, cut or rotted short in other years."""
    stumps = []
    for _ in range(int(rng.integers(0, 5))):
        angle = rng.uniform(0, 2 * np.pi)
        side = np.array([np.cos(angle), np.sin(angle), rng.uniform(0.1, 1.2)])
        way = unit(side)
        radius = rng.uniform(2.8, 6.5)
        stumps.append(
            Stub(
                way * size * 0.35,
                unit(way + np.array([0, 0, 0.3]) + rng.normal(0, 0.2, 3)),
                size * rng.uniform(0.5, 0.85) + rng.uniform(0, 7),
                radius,
                radius * rng.uniform(0.3, 0.65) if rng.random() < 0.6 else 0.0,
                unit(way + rng.normal(0, 0.3, 3)),
                0.0,
            )
        )
    return stumps


def _path(
    rng: np.random.Generator,
    start: Floats,
    azimuth: float,
    rise: tuple[float, float],
    length: float,
    bend: float,
) -> Floats:
    """Walk from a start: the rise (radians) changes from first to second."""
    count = max(int(length / STEP_MM), 6)
    share = np.linspace(0, 1, count)
    wave = rng.normal(0, 1, 3)
    sway = bend * (wave[0] * share + 0.5 * wave[1] * np.sin(np.pi * share * 1.6))
    lift = rise[0] + (rise[1] - rise[0]) * share**0.8
    lift = lift + 0.35 * bend * wave[2] * np.sin(2.2 * np.pi * share)
    turned = azimuth + sway
    ways = np.stack(
        [np.cos(lift) * np.cos(turned), np.cos(lift) * np.sin(turned), np.sin(lift)], -1
    )
    steps = np.concatenate([np.zeros((1, 3)), ways[:-1] * (length / (count - 1))])
    return np.asarray(start + np.cumsum(steps, axis=0))


def _radius(
    along: Floats, leaves: float, neck: float, body: float, fat: float, thin: float,
    shape: str, flare: float,
) -> Floats:  # fmt: skip
    """Radius along a root: collar, neck, body, thin end."""
    shares = PchipInterpolator(KNOTS, HABITS[shape])
    part = np.clip((along - leaves - neck) / body, 0, 1)
    swell = np.clip(shares(part), 0, 1)
    reach = np.clip(1 - (along - leaves) / (0.45 * neck + 3), 0, 1)
    collar = thin * (1 + flare * reach**2)
    late = np.clip((along - leaves - neck - 0.55 * body) / (0.45 * body), 0, 1)
    rest = thin * (1 - late) + min(1.6, 0.35 * thin) * late
    tail = np.clip((along - leaves - neck - body) / max(along[-1] * 0.25, 1), 0, 1)
    bare = np.minimum(collar, rest) * (1 - 0.55 * tail)
    return np.asarray(np.sqrt((swell * fat) ** 2 + bare**2))


def _tuber(
    rng: np.random.Generator, habit: Habit, plan: Plan, azimuth: float, index: int
) -> Root:
    size = plan.size
    scale = float(np.clip(rng.lognormal(-0.1, 0.32), 0.42, 1.5))
    fat = habit.radius * scale**0.8 * rng.uniform(0.85, 1.15)
    body = float(np.clip(habit.length * scale * rng.uniform(0.8, 1.2), 35, 135))
    thin = min(habit.neck_radius * rng.uniform(0.75, 1.3), 0.7 * fat)
    neck = habit.neck_length * rng.uniform(0.45, 1.6)
    tail = rng.uniform(15, 70) if rng.random() < 0.5 * habit.tail else rng.uniform(1, 9)
    low = index % 2 == 1
    rise = (rng.uniform(-0.95, -0.45), rng.uniform(-0.8, -0.15)) if low else (
        rng.uniform(-0.45, 0.15), rng.uniform(-0.75, -0.2))  # fmt: skip
    height = size * (rng.uniform(-0.6, -0.15) if low else rng.uniform(-0.2, 0.25))
    aside = size * rng.uniform(0.12, 0.3)
    start = np.array([aside * np.cos(azimuth), aside * np.sin(azimuth), height])
    way = np.cos(rise[0]) * np.array([np.cos(azimuth), np.sin(azimuth), 0])
    way[2] = np.sin(rise[0])
    leaves = _way_out(plan.lumps, plan.stems, start, way)
    length = leaves + neck + body + tail
    path = _path(rng, start, azimuth, rise, length, habit.bend)
    shape = habit.shape if rng.random() < 0.75 else str(rng.choice(list(HABITS)))
    root = _measured(
        "tuber", path, leaves, neck, body, fat, thin, shape, rng.uniform(0.2, 0.9)
    )
    root.flat = rng.uniform(0.02, 0.12)
    root.lumps = rng.uniform(0.03, 0.11)
    return root


def _measured(
    kind: RootKind, path: Floats, leaves: float, neck: float, body: float, fat: float,
    thin: float, shape: str, flare: float,
) -> Root:  # fmt: skip
    path, along = resampled(path, STEP_MM)
    radius = _radius(along, leaves, neck, body, fat, thin, shape, flare)
    fine = np.arange(leaves, leaves + neck + 0.3 * body, 0.5)
    thick = np.interp(fine, along, radius)
    narrow = int(np.argmin(thick))
    grown = thick > thick[narrow] + 0.4 * (radius.max() - thick[narrow])
    grown &= np.arange(len(fine)) >= narrow
    shoulder = float(fine[np.argmax(grown)]) if grown.any() else float(fine[-1])
    return Root(
        kind, 0, "crown", path, along, radius,
        leaves, float(fine[narrow]), shoulder, min(leaves + neck + body, along[-1]),
    )  # fmt: skip


def _spent(rng: np.random.Generator, habit: Habit, plan: Plan) -> Root:
    """Last year's tuber: central and low, with a sagging skin."""
    size = plan.size
    azimuth = rng.uniform(0, 2 * np.pi)
    fat, body = (
        habit.radius * rng.uniform(0.7, 1.15),
        habit.length * rng.uniform(0.7, 1),
    )
    thin = min(habit.neck_radius * rng.uniform(0.9, 1.4), 0.7 * fat)
    neck = rng.uniform(3, 12)
    way = 0.12 * size * np.array([np.cos(azimuth), np.sin(azimuth), 0])
    start = way - np.array([0, 0, 0.2 * size])
    rise = (rng.uniform(-1.4, -0.8), rng.uniform(-0.7, -0.1))
    first = np.cos(rise[0]) * np.array([np.cos(azimuth), np.sin(azimuth), 0])
    first[2] = np.sin(rise[0])
    leaves = _way_out(plan.lumps, [], start, first)
    length = leaves + neck + body + rng.uniform(2, 25)
    path = _path(rng, start, azimuth, rise, length, 0.5)
    root = _measured(
        "spent_parent", path, leaves, neck, body, fat, thin, "spindle", 0.5
    )
    root.flat, root.lumps = rng.uniform(0.1, 0.3), rng.uniform(0.06, 0.16)
    return root


def _extras(rng: np.random.Generator, plan: Plan) -> None:
    """Rat's tails, a tuber on a tuber, a broken neck, a soft patch."""
    hosts = [root for root in plan.roots if root.kind == "tuber"]
    if rng.random() < 0.3:
        host = hosts[rng.integers(len(hosts))]
        plan.roots.append(_side_tuber(rng, host, plan.roots.index(host) + 1))
    if rng.random() < 0.3:
        host = hosts[rng.integers(len(hosts))]
        host.broken = True
        _hinge(rng, host)
    if rng.random() < 0.25:
        hosts[rng.integers(len(hosts))].soft = True
    for _ in range(int(rng.integers(0, 4))):
        plan.hairs.append(_thin(rng, plan.size, "rat_tail"))
    for _ in range(int(rng.integers(15, 60))):
        plan.hairs.append(_thin(rng, plan.size, "hair"))


def _side_tuber(rng: np.random.Generator, host: Root, number: int) -> Root:
    place = rng.uniform(host.shoulder, host.end * 0.85)
    way = rng.normal(0, 1, 3)
    azimuth = float(np.arctan2(way[1], way[0]))
    thick = host.thickness(place)
    fat, body = thick * rng.uniform(0.3, 0.6), thick * rng.uniform(1.4, 2.6)
    leaves = thick * 0.85
    neck = rng.uniform(2, 6)
    length = leaves + neck + body + 3
    rise = (rng.uniform(-0.5, 0.3), -0.4)
    path = _path(rng, host.place(place), azimuth, rise, length, 0.3)
    shape = str(rng.choice(["egg", "spindle"]))
    root = _measured(
        "tuber_on_tuber", path, leaves, neck, body, fat, 0.5 * fat, shape, 0.2
    )
    root.attached_to = f"T{number}"
    return root


def _hinge(rng: np.random.Generator, root: Root) -> None:
    """Let the body hang from a cracked neck."""
    beyond = root.along > root.neck
    pivot = root.place(root.neck)
    axis = unit(rng.normal(0, 1, 3) * np.array([1, 1, 0.3]))
    angle = rng.uniform(0.35, 0.8)
    arm = root.path[beyond] - pivot
    root.path[beyond] = (
        pivot
        + arm * np.cos(angle)
        + np.cross(axis, arm) * np.sin(angle)
        + axis * (arm @ axis)[:, None] * (1 - np.cos(angle))
    )


def _thin(rng: np.random.Generator, size: float, kind: RootKind) -> Root:
    azimuth, rise = rng.uniform(0, 2 * np.pi), rng.uniform(-1.2, 0.1)
    long = rng.uniform(60, 150) if kind == "rat_tail" else rng.gamma(2, 11) + 5
    thick = rng.uniform(1.2, 2.6) if kind == "rat_tail" else rng.uniform(0.15, 0.5)
    way = np.array([np.cos(azimuth), np.sin(azimuth), np.sin(rise)])
    bend = 0.8 if kind == "rat_tail" else 2.2
    path = _path(rng, way * size * 0.45, azimuth, (rise, -0.6), long + size * 0.3, bend)
    path, along = resampled(path, STEP_MM if kind == "rat_tail" else 1.5)
    radius = thick * (1 - 0.75 * along / along[-1])
    return Root(kind, 0, "crown", path, along, radius, end=along[-1])
