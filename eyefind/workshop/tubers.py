"""Shapes of tubers: narrow neck, fat body, tapering tail."""

from dataclasses import dataclass

import numpy as np

from eyefind.workshop.anatomy import Tube, Vector

START_MM = 5.0
"""A tuber starts this deep inside what it is attached to."""
NECK_SWELL = 0.22
"""A neck is by this share thicker at the body than at its narrowest."""
POINTS = 56
"""Spheres along one tuber."""
EVERY = 4
"""One in so many of them is looked at when tubers are pushed apart."""


@dataclass(frozen=True)
class Habit:
    """How the tubers of one variety are built.

    Attributes
    ----------
    length_mm, slimness : float
        Length of the body; length over diameter.
    neck_mm, neck_length_mm : float
        Radius and length of the neck.
    shoulder, fullest : float
        How quickly the body swells; where it is widest (0 neck, 1 tip).
    tail_mm : float
        Length of the thin end.
    bend : float
        How crooked, radians over the whole length.
    """

    length_mm: float
    slimness: float
    neck_mm: float
    neck_length_mm: float
    shoulder: float
    fullest: float
    tail_mm: float
    bend: float


def draw_habit(rng: np.random.Generator) -> Habit:
    """Draw the habit of a variety: fat, long, finger-like or neckless."""
    kind = rng.choice(["fat", "long", "finger", "neckless"], p=[0.35, 0.35, 0.18, 0.12])
    slim = {"fat": (1.8, 2.6), "long": (2.8, 4.0), "finger": (4.2, 6.0)}
    slimness = rng.uniform(*slim.get(str(kind), (2.2, 3.5)))
    neckless = kind == "neckless"
    return Habit(
        length_mm=rng.uniform(65, 120) * (1.15 if kind == "finger" else 1.0),
        slimness=slimness,
        neck_mm=rng.uniform(5, 8) if neckless else rng.uniform(2.4, 5.0),
        neck_length_mm=_neck_length(rng, neckless),
        shoulder=rng.uniform(0.12, 0.35),
        fullest=rng.uniform(0.35, 0.62),
        tail_mm=rng.uniform(3, 42),
        bend=rng.uniform(0.2, 0.9),
    )


def _neck_length(rng: np.random.Generator, neckless: bool) -> float:
    if neckless:
        return float(rng.uniform(1, 4))
    return float(rng.choice([rng.uniform(4, 20), rng.uniform(16, 45)], p=[0.65, 0.35]))


def grow_tuber(
    rng: np.random.Generator,
    habit: Habit,
    start: Vector,
    direction: Vector,
    size: float = 1.0,
) -> Tube:
    """Draw one tuber of a habit.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    habit : Habit
        How this variety's tubers are built.
    start, direction : (3,) arrays
        Where it leaves what it is attached to, mm, and which way.
    size : float
        Scale of the whole.

    Returns
    -------
    Tube
        With its neck, neck's end and tail marked.
    """
    length = habit.length_mm * size * float(np.exp(rng.normal(0, 0.22)))
    fat = length / habit.slimness / 2 * float(np.exp(rng.normal(0, 0.12)))
    fat = float(np.clip(fat / (1 + NECK_SWELL), 5.0 * size, 23.0))
    neck = min(habit.neck_mm * rng.uniform(0.75, 1.25) * size**0.6, fat * 0.8)
    stretch = float(np.clip(np.exp(rng.normal(0, 0.45)), 0.3, 2.2))
    neck_length = habit.neck_length_mm * stretch * size + START_MM + 2.0
    tail = habit.tail_mm * rng.uniform(0.3, 1.6) * size
    along = np.linspace(0, neck_length + length + tail, POINTS)
    body = np.clip((along - neck_length) / length, 0, 1)
    swell = np.clip(body / (habit.shoulder + 0.2), 0, 1)
    swell = swell * swell * (3 - 2 * swell)
    past = np.clip((body - habit.fullest) / (1 - habit.fullest), 0, 1)
    taper = (1 - past ** rng.uniform(1.6, 2.8)) ** 0.75
    tip = rng.uniform(0.8, 2.2) * size**0.5
    radius = (neck + (fat - neck) * swell) * taper
    thin = tip * np.clip(1 - (along - neck_length - length) / (tail * 1.4 + 1), 0.3, 1)
    radius = np.maximum(radius, thin)
    # Thinnest soon after it leaves the crown, then slowly thicker.
    fade = neck_length * rng.uniform(0.08, 0.3) + 0.5
    flare = 1 + rng.uniform(0.25, 0.8) * np.exp(-(along - START_MM).clip(0) / fade)
    flare = flare + NECK_SWELL * np.clip((along - START_MM) / neck_length, 0, 1)
    lumps = _smooth_random(rng, POINTS, 7) * 0.05 * (body > 0) + 1
    radius = radius * flare * lumps
    points = start + _curve(rng, habit, direction, along)
    beyond = (along > START_MM) & (along < neck_length + 0.3 * length)
    neck_at = int(np.argmin(np.where(beyond, radius, 99)))
    grown = radius > radius[neck_at] + 0.4 * (fat - radius[neck_at])
    neck_end = int(np.argmax(grown & (np.arange(POINTS) >= neck_at)))
    ended = (radius < 3.0) & (along > neck_length + 0.5 * length)
    tail_at = int(np.argmax(ended)) if ended.any() else -1
    return Tube(
        "tuber", "", points, radius, neck=neck_at, neck_end=neck_end, tail=tail_at
    )


def _curve(
    rng: np.random.Generator, habit: Habit, direction: Vector, along: Vector
) -> Vector:
    """Bend the axis: crooked at random, drooping a little."""
    share = along / along[-1]
    wander = np.stack([_smooth_random(rng, len(along), 4) for _ in range(3)], axis=1)
    wander = (wander - wander[0]) * habit.bend * (0.3 + share[:, None])
    droop = -0.35 * np.sin(np.pi * np.clip(share * 1.2, 0, 1))[:, None] * [0, 0, 1]
    ways = direction + wander * 0.6 + droop
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    steps = np.diff(along, prepend=0.0)[:, None]
    return np.asarray(np.cumsum(ways * steps, axis=0))


def _smooth_random(rng: np.random.Generator, count: int, knots: int) -> Vector:
    values = rng.normal(0, 1, knots)
    place = np.linspace(0, knots - 1, count)
    cell = np.minimum(place.astype(int), knots - 2)
    part = place - cell
    part = part * part * (3 - 2 * part)
    return np.asarray(values[cell] * (1 - part) + values[cell + 1] * part)


def part_tubers(tubes: list[Tube], rounds: int = 25) -> None:
    """Push overlapping tubers apart, bending them from the neck outwards.

    Parameters
    ----------
    tubes : list of Tube
        Changed in place.
    rounds : int
        Steps of relaxation.
    """
    if len(tubes) < 2:
        return
    owner = np.repeat(np.arange(len(tubes)), POINTS // EVERY)
    for _ in range(rounds):
        places = np.concatenate([tube.points[::EVERY] for tube in tubes])
        radii = np.concatenate([tube.radius[::EVERY] for tube in tubes])
        gap = places[:, None] - places[None]
        apart = np.linalg.norm(gap, axis=2) + 1e-6
        press = np.maximum(radii[:, None] + radii[None] - apart, 0)
        press[owner[:, None] == owner[None]] = 0
        shove = gap * (press / apart)[..., None]
        push = shove.max(axis=1) + shove.min(axis=1)
        for number, tube in enumerate(tubes):
            own = np.repeat(push[owner == number], EVERY, axis=0)
            own = np.cumsum(own, axis=0) / np.arange(1, POINTS + 1)[:, None]
            free = np.clip((np.arange(POINTS) - tube.neck) / 18, 0, 1)[:, None]
            tube.points = tube.points + 0.5 * free * own
