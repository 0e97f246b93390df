"""The best hub in a part and the best choice of strokes to it."""

import numpy as np
from shapely import Polygon

from eyefind.plan.choose import Circle, Worth, choose_strokes, weight_of
from eyefind.plan.division import Part
from eyefind.plan.fan import Fan, Star
from eyefind.plan.guard import Guard
from eyefind.plan.shapes import arc, polygon
from eyefind.rules import Rules

HUBS = 16
"""About how many places in the crown are tried as the hub at first."""
LEAST_STEP_MM = 2.0
"""They are at least this far apart."""
FINER, MOST_OPEN = 2, 2
"""How often the grid of hubs is made finer, and around how many of the best hubs."""
AROUND = np.array([(r, c) for r in (-1, 0, 1) for c in (-1, 0, 1) if r or c])


def best_star(
    part: Part, guard: Guard, rules: Rules, px_per_mm: float
) -> tuple[Star, list[int], Worth] | None:
    """Find the hub and the strokes that divide a part best.

    Parameters
    ----------
    part : Part
        With a core and at least two units.
    guard : Guard
        The rules.
    rules : Rules
        The rules of the trade.
    px_per_mm : float
        Scale.

    Returns
    -------
    star, chosen, worth : Star, list of int, Worth
        The strokes, those that are made, and how good the pieces are; None if no two
        strokes keep the rules. `chosen` is empty if one piece is best.
    """
    fan = Fan(part, guard.blocked(part.core, px_per_mm), px_per_mm)
    safe_chance = rules.value("safe_eye_chance")
    best = None
    for star in _stars(fan, px_per_mm):
        chosen, worth = choose_strokes(_circle(star), safe_chance)
        if best is None or (worth, len(star.units)) > (best[2], len(best[0].units)):
            best = star, chosen, worth
    return best


def sector(star: Star, core: Polygon, first: int, second: int) -> Polygon:
    """Return the stretch of the core between two strokes, clockwise."""
    rim = arc(core.exterior, star.along[first], star.along[second])
    return polygon(np.concatenate([[star.hub_rc], rim]))


def _stars(fan: Fan, px_per_mm: float) -> list[Star]:
    """Draw the strokes to hubs on a grid, which is made finer where most gaps open.

    Which hubs are tried depends on shapes alone, never on the eyes' chances: so a
    confirmed eye can only add safe pieces.
    """
    core = fan.part.core
    low_row, low_col, high_row, high_col = core.bounds
    step = max(np.sqrt(core.area / HUBS), LEAST_STEP_MM * px_per_mm)
    rows = np.arange(low_row + step / 2, high_row, step)
    cols = np.arange(low_col + step / 2, high_col, step)
    grid = np.stack(np.meshgrid(rows, cols, indexing="ij"), axis=-1)
    stars = fan.stars(grid.reshape(-1, 2))
    for _ in range(FINER):
        stars.sort(key=_openness, reverse=True)
        if stars and _openness(stars[0])[0] == len(fan.part.units):
            break
        step /= 2
        for star in stars[:MOST_OPEN]:
            stars += fan.stars(star.hub_rc + AROUND * step)
    return stars


def _openness(star: Star) -> tuple[int, float]:
    return sum(bool(units) for units in star.units), -float(star.cost.sum())


def _circle(star: Star) -> Circle:
    return Circle(
        star.cost,
        np.array([sum(len(u.tubers) for u in units) for units in star.units]),
        np.array([sum(u.sound for u in units) for units in star.units]),
        np.array([sum(weight_of(e.chance) for e in eyes) for eyes in star.eyes]),
    )
