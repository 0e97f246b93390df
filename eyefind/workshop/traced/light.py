"""Lamps, a window, and the dim room around them."""

from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter

from eyefind.workshop.traced.noise3 import Floats

LIGHTS = ("raking_lamp", "high_lamp", "two_lamps", "window", "overcast")
SHARES = [0.25, 0.2, 0.2, 0.2, 0.15]
WARM, NEUTRAL, COOL = (1.0, 0.74, 0.46), (1.0, 0.95, 0.86), (0.82, 0.92, 1.0)


def draw_lights(rng: np.random.Generator) -> tuple[str, dict[str, Any]]:
    """Return how it is lit, in a word, and Mitsuba's emitters by name."""
    kind = str(rng.choice(LIGHTS, p=SHARES))
    turn = rng.uniform(0, 2 * np.pi)
    lights: dict[str, Any] = {}
    ambient = rng.uniform(0.05, 0.3)
    if kind == "raking_lamp":
        lights["lamp"] = _lamp(rng, turn, rng.uniform(14, 32), WARM)
    elif kind == "high_lamp":
        lights["lamp"] = _lamp(rng, turn, rng.uniform(50, 82), WARM)
    elif kind == "two_lamps":
        lights["lamp"] = _lamp(rng, turn, rng.uniform(25, 60), NEUTRAL)
        other = turn + rng.uniform(1.5, 4.5)
        lights["other"] = _lamp(rng, other, rng.uniform(25, 65), WARM, 0.6)
    elif kind == "window":
        ambient = rng.uniform(0.12, 0.4)
        lights["window"] = _panel(turn, rng.uniform(25, 55), 1300, 550, 1.0, COOL)
    else:
        ambient = rng.uniform(0.8, 1.3)
        lights["sky"] = _panel(turn, rng.uniform(60, 85), 1800, 900, 0.45, COOL)
    lights["room"] = _room(rng, ambient)
    return kind, lights


SIDES = np.radians([0.0, 180.0, 90.0, 270.0])
"""Sides of the picture from which a moved lamp shines: the first two are opposite."""
AIM_RAD = 0.2
"""Standard deviation of the side on which it really stands."""
LOW_DEG = (5.0, 40.0)
"""Its height above the picture's plane, and its least above the bench, degrees."""


def move_lamp(
    rng: np.random.Generator, axes: Floats, count: int
) -> list[tuple[Floats, dict[str, Any]]]:
    """Place one lamp low on several sides of the clump, in one and the same room.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    axes : (3, 3) array
        Of the camera: right, down, forward.
    count : int
        How many places, up to four.

    Returns
    -------
    list of ((3,) array, dict)
        Of each place the way towards the lamp, and Mitsuba's emitters by name.
    """
    far, half = rng.uniform(450, 950), rng.uniform(18, 70)
    surroundings = _room(rng, rng.uniform(0.05, 0.3))
    start = rng.uniform(0, 2 * np.pi)
    least = np.sin(np.radians(LOW_DEG[0]))
    places = []
    for side in SIDES[:count]:
        turn = start + side + rng.normal(0, AIM_RAD)
        rise = np.radians(rng.uniform(*LOW_DEG))
        flat = np.cos(rise)
        way = np.array([flat * np.cos(turn), flat * np.sin(turn), -np.sin(rise)]) @ axes
        # A lamp below the bench lights nothing: it is lifted over its edge.
        way[2] = max(way[2], least)
        way /= np.linalg.norm(way)
        lifted = float(np.degrees(np.arcsin(way[2])))
        around = float(np.arctan2(way[1], way[0]))
        lamp = _panel(around, lifted, far, half, rng.uniform(0.8, 1.2), WARM)
        places.append((way, {"lamp": lamp, "room": surroundings}))
    return places


def _way(turn: float, rise_deg: float) -> Floats:
    rise = np.radians(rise_deg)
    return np.array(
        [np.cos(rise) * np.cos(turn), np.cos(rise) * np.sin(turn), np.sin(rise)]
    )


def _panel(
    turn: float, rise_deg: float, far: float, half: float, power: float,
    hue: tuple[float, float, float],
) -> dict[str, Any]:  # fmt: skip
    """Return a square that faces the clump and lights it with `power`."""
    import mitsuba as mi

    place = far * _way(turn, rise_deg)
    to_world = mi.ScalarTransform4f().look_at(
        [float(v) for v in place], [0.0, 0.0, 30.0], [0.0, 0.0, 1.0]
    ) @ mi.ScalarTransform4f().scale([half, half, 1.0])
    # Radiance that gives an irradiance of pi * power where it faces the clump.
    radiance = power * np.pi * far**2 / (4 * half**2)
    shine = [float(radiance * part) for part in hue]
    return {
        "type": "rectangle",
        "to_world": to_world,
        "emitter": {"type": "area", "radiance": {"type": "rgb", "value": shine}},
    }


def _lamp(
    rng: np.random.Generator, turn: float, rise_deg: float,
    hue: tuple[float, float, float], power: float = 1.0,
) -> dict[str, Any]:  # fmt: skip
    return _panel(
        turn, rise_deg, rng.uniform(450, 950), rng.uniform(18, 70), power, hue
    )


def _room(rng: np.random.Generator, level: float) -> dict[str, Any]:
    """Return surroundings: darker below, blurred bright and dark patches."""
    import mitsuba as mi

    rows, cols = 128, 256
    patches = gaussian_filter(
        rng.normal(0, 1, (rows, cols)), 9, mode=("nearest", "wrap")
    )
    patches = 1 + 0.8 * patches / patches.std()
    height = np.linspace(1.3, 0.3, rows)[:, None]
    # Walls, shelves and hedges stand along the horizon.
    low = rows // 2
    walls = np.ones((rows, cols))
    for _ in range(70):
        col, wide = int(rng.integers(cols)), int(rng.integers(5, 50))
        tall = int(rng.integers(4, 34))
        span = np.arange(col, col + wide) % cols
        walls[low - tall : low + 20, span] = rng.uniform(0.08, 0.6)
    walls = gaussian_filter(walls, 1.5, mode=("nearest", "wrap"))
    height = height * walls
    hue = np.array([1.0, rng.uniform(0.9, 1.0), rng.uniform(0.75, 1.1)])
    image = (level * np.clip(patches, 0.15, 3) * height)[..., None] * hue
    return {
        "type": "envmap",
        "bitmap": mi.Bitmap(image.astype(np.float32)),
        # Mitsuba's maps have y upwards.
        "to_world": mi.ScalarTransform4f().rotate([1, 0, 0], 90),
    }
