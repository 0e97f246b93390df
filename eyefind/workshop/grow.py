"""Grows clumps: draws crown, stems, tubers and roots at random.

Sizes are those of the trade (lengths 50-180 mm, bodies 12-55 mm, necks 4-14 mm
across; from memory, no table per variety is published).
"""

from dataclasses import dataclass

import numpy as np

from eyefind.workshop.anatomy import WART_MM, Clump, Tube, Vector
from eyefind.workshop.marks import put_marks, surface_of
from eyefind.workshop.tones import FACES, STEMS, age, draw_bark, draw_skin, spread
from eyefind.workshop.tubers import (
    START_MM,
    Habit,
    draw_habit,
    grow_tuber,
    part_tubers,
)


@dataclass(frozen=True)
class Wishes:
    """What a clump must have; None leaves it to chance."""

    tubers: int | None = None
    stems: int | None = None
    parents: int | None = None
    side_tubers: int | None = None
    rat_tails: int | None = None
    broken: bool | None = None
    soft: bool | None = None
    eyes: bool | None = None


def grow(rng: np.random.Generator, wishes: Wishes | None = None) -> Clump:
    """Draw a clump.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    wishes : Wishes, optional
        What it must have.

    Returns
    -------
    Clump
        In its own frame: stem up, crown's middle at the origin, mm.
    """
    wishes = wishes or Wishes()
    count = _either(wishes.tubers, int(rng.integers(3, 15)))
    parents = _either(wishes.parents, int(rng.choice(3, p=[0.5, 0.38, 0.12])))
    crown_mm = rng.uniform(10, 24) + 0.6 * count
    habit = draw_habit(rng)
    skin = draw_skin(rng)
    washed = rng.random() < 0.5
    directions = _directions(rng, count, parents)
    places, radii = _crown(rng, crown_mm, directions)
    clump = Clump(
        places,
        radii,
        [],
        [],
        "washed" if washed else "brushed",
        draw_bark(rng, skin),
        float(rng.uniform(0.02, 0.45) if washed else rng.uniform(0.3, 1.0)),
        rough=float(rng.uniform(0.4, 1.7)),
        caked=0.0 if washed else float(rng.choice([0, rng.uniform(0.1, 0.7)])),
    )
    wet = float(rng.uniform(0.2, 1.0)) if washed and rng.random() < 0.65 else 0.0
    _add_tubers(rng, clump, directions, parents, habit, skin)
    part_tubers(clump.tubes)
    _break_neck(rng, clump, wishes)
    _add_side_tubers(rng, clump, wishes, habit)
    _add_stems(rng, clump, wishes, crown_mm)
    _add_stubs(rng, clump, skin)
    _add_roots(rng, clump, wishes)
    for tube in clump.tubes:
        tube.wet = wet
    put_marks(rng, clump, wishes.eyes, wishes.soft)
    return clump


def _either(wish: int | None, chance: int) -> int:
    return chance if wish is None else wish


def _unit(vector: Vector) -> Vector:
    return np.asarray(vector / np.linalg.norm(vector))


def _directions(rng: np.random.Generator, count: int, parents: int) -> Vector:
    """Draw the way each tuber leaves the crown; parents (last) point down."""
    sound = max(count - parents, 1)
    azimuth = 2 * np.pi * (np.arange(sound) + rng.uniform(-0.38, 0.38, sound)) / sound
    azimuth += rng.uniform(0, 2 * np.pi)
    if rng.random() < 0.3:
        azimuth = azimuth * rng.uniform(0.6, 0.9)
    # Some clumps hang, some spread flat, on some the necks arch over the crown.
    low, high = ((-45, 12), (-70, -10), (-30, 50))[rng.choice(3, p=[0.45, 0.2, 0.35])]
    elevation = np.radians(rng.uniform(low, high, sound))
    azimuth = np.append(azimuth, rng.uniform(0, 2 * np.pi, count - sound))
    elevation = np.append(elevation, np.radians(rng.uniform(-75, -25, count - sound)))
    return np.stack(
        [
            np.cos(azimuth) * np.cos(elevation),
            np.sin(azimuth) * np.cos(elevation),
            np.sin(elevation),
        ],
        axis=1,
    )


def _crown(
    rng: np.random.Generator, size_mm: float, directions: Vector
) -> tuple[Vector, Vector]:
    """Heap balls into a knob with one shoulder a tuber."""
    flat = np.array([1.0, 1.0, rng.uniform(0.6, 0.95)])
    core = rng.normal(0, 0.22, (4, 3)) * size_mm * flat
    core_radii = rng.uniform(0.5, 0.68, 4) * size_mm
    reach = rng.uniform(0.62, 0.92, (len(directions), 1)) * size_mm
    shoulders = directions * reach * flat
    shoulder_radii = rng.uniform(0.24, 0.42, len(directions)) * size_mm
    knobs = rng.normal(0, 1, (int(rng.integers(8, 42)), 3))
    knobs /= np.linalg.norm(knobs, axis=1, keepdims=True)
    knobs[:, 2] = np.abs(knobs[:, 2]) * rng.choice([1, -1], len(knobs), p=[0.75, 0.25])
    knob_places = knobs * flat * rng.uniform(0.55, 1.0, (len(knobs), 1)) * size_mm
    knob_radii = rng.uniform(0.06, 0.3, len(knobs)) * size_mm
    places = np.concatenate([core, shoulders, knob_places])
    radii = np.concatenate([core_radii, shoulder_radii, knob_radii])
    warts = _warts(rng, places, radii)
    return np.concatenate([places, warts]), np.concatenate(
        [radii, np.exp(rng.uniform(np.log(0.7), np.log(WART_MM), len(warts)))]
    )


def _warts(rng: np.random.Generator, places: Vector, radii: Vector) -> Vector:
    """Place small lumps on balls, in drifts: (W, 3) in mm."""
    least, most = ((0, 1), (20, 60), (60, 160))[int(rng.integers(3))]
    count = int(rng.integers(least, most))
    hosts = rng.integers(len(radii), size=count)
    ways = rng.normal(0, 1, (count, 3)) + rng.normal(0, 0.7, 3)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    return np.asarray(places[hosts] + ways * radii[hosts, None])


def _add_tubers(
    rng: np.random.Generator,
    clump: Clump,
    directions: Vector,
    parents: int,
    habit: Habit,
    skin: Vector,
) -> None:
    sound = len(directions) - parents
    apart, hue = rng.uniform(0.03, 0.16), rng.uniform(0.004, 0.022)
    wrinkled, dry = rng.uniform(0.05, 1.0), rng.uniform(0.0, 0.6)
    spotty, blotchy = rng.uniform(0.0, 0.8), rng.uniform(0, 1)
    for number, direction in enumerate(directions):
        start, _ = clump.exit_of(direction)
        tube = grow_tuber(rng, habit, start - START_MM * direction, direction)
        tube.id = f"T{number + 1}"
        tube.colour = spread(rng, skin, apart, hue)
        tube.wrinkles = float(np.clip(wrinkled + rng.normal(0, 0.2), 0.05, 1))
        tube.lenticels = float(np.clip(spotty + rng.normal(0, 0.1), 0, 0.9))
        tube.blotches = float(np.clip(blotchy + rng.normal(0, 0.25), 0, 1.5))
        tube.shrivel = float(rng.choice([0, dry * rng.uniform(0.4, 1)], p=[0.7, 0.3]))
        if number >= sound:
            age(rng, tube)
        clump.tubes.append(tube)


def _add_side_tubers(
    rng: np.random.Generator, clump: Clump, wishes: Wishes, habit: Habit
) -> None:
    hosts = [tube for tube in clump.tubes if tube.kind == "tuber"]
    count = _either(wishes.side_tubers, int(rng.choice(3, p=[0.55, 0.32, 0.13])))
    for _ in range(count):
        host = hosts[rng.integers(len(hosts))]
        place = int(
            rng.integers(host.neck_end + 4, max(host.end - 4, host.neck_end + 5))
        )
        way = _unit(host.points[place + 1] - host.points[place - 1])
        out = rng.normal(0, 1, 3)
        out = _unit(out - way * (out @ way))
        direction = _unit(out + rng.uniform(0.1, 1.0) * way)
        start = host.points[place] + out * host.radius[place] * 0.6
        tube = grow_tuber(rng, habit, start, direction, size=rng.uniform(0.35, 0.7))
        tube.kind = "tuber_on_tuber"
        tube.id = f"T{sum(t.id.startswith('T') for t in clump.tubes) + 1}"
        tube.attached_to = host.id
        tube.colour = host.colour * rng.uniform(0.92, 1.1)
        tube.wrinkles, tube.lenticels = host.wrinkles, host.lenticels
        tube.blotches = host.blotches
        clump.tubes.append(tube)


def _break_neck(rng: np.random.Generator, clump: Clump, wishes: Wishes) -> None:
    broken = rng.random() < 0.2 if wishes.broken is None else wishes.broken
    if not broken:
        return
    sound = [tube for tube in clump.tubes if tube.kind == "tuber"]
    tube = sound[rng.integers(len(sound))]
    tube.broken = True
    hinge = tube.points[tube.neck]
    axis, angle = _unit(rng.normal(0, 1, 3)), rng.uniform(0.3, 0.9)
    beyond = tube.points[tube.neck :] - hinge
    tube.points[tube.neck :] = (
        hinge
        + beyond * np.cos(angle)
        + np.cross(axis, beyond) * np.sin(angle)
        + axis * (beyond @ axis)[:, None] * (1 - np.cos(angle))
    )


def _add_stems(
    rng: np.random.Generator, clump: Clump, wishes: Wishes, crown_mm: float
) -> None:
    stems = _either(wishes.stems, int(rng.choice([1, 2], p=[0.68, 0.32])))
    turn = rng.uniform(0, 2 * np.pi)
    for number in range(stems):
        lean = rng.uniform(0, 0.22) if stems == 1 else rng.uniform(0.1, 0.4)
        side = turn + np.pi * number + rng.uniform(-0.4, 0.4)
        across = np.array([np.cos(side), np.sin(side), 0])
        foot = across * crown_mm * (0.1 if stems == 1 else rng.uniform(0.35, 0.6))
        direction = _unit(np.array([0, 0, 1.0]) + lean * across)
        foot = foot + 0.35 * crown_mm * direction
        stub = rng.uniform(30, 110) + 0.65 * crown_mm
        tube = _stem(rng, foot, direction, stub, _thick(rng, crown_mm))
        tube.id = f"S{number + 1}"
        clump.tubes.append(tube)
    for _ in range(int(rng.integers(1, 6))):
        way = _unit(rng.normal(0, 1, 3) * [1, 1, 0.4] + [0, 0, rng.uniform(0.5, 1.6)])
        top, _ = clump.exit_of(way)
        reach = float(np.linalg.norm(top)) + rng.uniform(1, 11)
        tube = _stem(rng, way * reach * 0.3, way, reach * 0.7, rng.uniform(2.5, 7))
        tube.kind = "old_stem"
        tube.colour = clump.bark * rng.uniform(0.7, 1.25)
        tube.hollow = float(rng.choice([0, rng.uniform(0.4, 0.75)]))
        clump.tubes.append(tube)


def _thick(rng: np.random.Generator, crown_mm: float) -> float:
    """Draw the radius of a stem; a small crown carries no thicker one than itself."""
    return float(min(rng.uniform(6, 13), 0.62 * crown_mm))


def _add_stubs(rng: np.random.Generator, clump: Clump, skin: Vector) -> None:
    """Leave stubs of necks whose tubers were cut off: pale faces on the crown."""
    for _ in range(int(rng.choice(4, p=[0.5, 0.25, 0.15, 0.1]))):
        way = _unit(rng.normal(0, 1, 3) * [1, 1, 0.6])
        top, _ = clump.exit_of(way)
        reach = float(np.linalg.norm(top)) + rng.uniform(1, 9)
        tube = _stem(rng, way * reach * 0.4, way, reach * 0.6, rng.uniform(2.5, 8))
        tube.kind, tube.hollow = "old_stem", 0.0
        tube.colour = spread(rng, skin, 0.1, 0.01)
        clump.tubes.append(tube)


def _stem(
    rng: np.random.Generator, foot: Vector, way: Vector, length: float, radius: float
) -> Tube:
    along = np.linspace(0, 1, 24)[:, None]
    bend = rng.normal(0, 0.05, 3) * length
    points = foot + way * along * length + bend * along**2
    flare = 1 + 0.35 * np.exp(-along[:, 0] * length / 14)
    radii = radius * flare * (1 + 0.03 * np.sin(9 * along[:, 0] + rng.uniform(0, 6)))
    knot = rng.uniform(0.35, 0.9)
    radii = radii * (1 + 0.12 * np.exp(-(((along[:, 0] - knot) * length / 5) ** 2)))
    return Tube(
        "stem",
        "",
        points,
        radii,
        cut=True,
        hollow=float(rng.choice([0, rng.uniform(0.35, 0.75)], p=[0.35, 0.65])),
        colour=spread(rng, STEMS[rng.integers(len(STEMS))], 0.12, 0.015),
        flesh=spread(rng, FACES[rng.integers(len(FACES))], 0.08, 0.01),
        wrinkles=float(rng.uniform(0.1, 0.6)),
        lenticels=0.1,
    )


def _add_roots(rng: np.random.Generator, clump: Clump, wishes: Wishes) -> None:
    tails = _either(wishes.rat_tails, int(rng.choice(4, p=[0.4, 0.3, 0.2, 0.1])))
    for number in range(tails):
        tube = _root(rng, clump, rng.uniform(45, 150), rng.uniform(1.2, 2.8))
        tube.kind, tube.id = "rat_tail", f"R{number + 1}"
        clump.tubes.append(tube)
    for _ in range(int(rng.integers(4, 36))):
        tube = _root(rng, clump, rng.uniform(8, 60), rng.uniform(0.25, 0.8))
        clump.tubes.append(tube)
    hairy = rng.choice([0, 2, 6], p=[0.45, 0.35, 0.2])
    for host in [tube for tube in clump.tubes if tube.id[:1] == "T"]:
        for _ in range(int(rng.integers(0, hairy + 1))):
            spot = int(rng.integers(host.neck, host.end))
            place, way = surface_of(rng, host, spot)
            length, thick = rng.uniform(4, 35), rng.uniform(0.15, 0.45)
            tube = _root_from(rng, place, way, length, thick)
            tube.colour, tube.attached_to = host.colour * rng.uniform(0.7, 1.1), host.id
            clump.tubes.append(tube)


def _root(rng: np.random.Generator, clump: Clump, length: float, radius: float) -> Tube:
    way = rng.normal(0, 1, 3)
    way[2] = -abs(way[2]) * 0.6
    way = _unit(way)
    start, _ = clump.exit_of(way)
    tube = _root_from(rng, start - 2 * way, way, length, radius)
    tube.colour = clump.bark * rng.uniform(0.9, 1.6)
    return tube


def _root_from(
    rng: np.random.Generator, start: Vector, way: Vector, length: float, radius: float
) -> Tube:
    steps = np.cumsum(rng.normal(0, 0.16, (24, 3)), axis=0)
    ways = way + steps * [1, 1, 0.6] + np.linspace(0, 0.4, 24)[:, None] * [0, 0, -1]
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    points = start + np.cumsum(ways, axis=0) * length / 24
    radii = radius * np.linspace(1, 0.35, 24) * rng.uniform(0.9, 1.1, 24)
    return Tube("root", "", points, radii, lenticels=0.05)
