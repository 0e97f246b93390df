"""The hubs that are tried in a part of the crown, and the strokes to each."""

import numpy as np

from eyefind.data import Points
from eyefind.plan.costs import Costs
from eyefind.plan.division import Part
from eyefind.plan.fan import Fan, Star
from eyefind.plan.glance import Glance
from eyefind.plan.guard import Guard
from eyefind.plan.search import Search

AROUND = np.array([(r, c) for r in (-1, 0, 1) for c in (-1, 0, 1) if r or c])


def stars_of(part: Part, guard: Guard, costs: Costs, search: Search) -> list[Star]:
    """Draw the strokes to the most promising hubs of a grid.

    Which hubs are tried depends on shapes alone, never on the eyes' chances: so a
    confirmed eye can only add safe pieces.

    Parameters
    ----------
    part : Part
        With a core.
    guard : Guard
        The rules.
    costs : Costs
        What strokes cost.
    search : Search
        How thoroughly to look.

    Returns
    -------
    list of Star
        Those that no other star with the same gaps beats in every stroke.
    """
    blocked = guard.blocked(part.core, costs.px_per_mm)
    fan = Fan(part, blocked, costs, search.entry_step_mm)
    least_px = search.least_step_mm * costs.px_per_mm
    step = max(np.sqrt(part.core.area / search.hubs), least_px)
    hubs = fan.hubs(step)
    if search.drawn is not None:
        hubs = _promising(fan, hubs, step, search.drawn)
    stars = [star for hub in hubs if (star := fan.star(hub)) is not None]
    return _not_beaten(stars, fan)


def _promising(fan: Fan, hubs_rc: Points, step_px: float, most: int) -> Points:
    """Choose the hubs that look best, and look closer around them."""
    glance = Glance(fan)
    best = glance.promising(hubs_rc, most)
    for finer_px in step_px / 2, step_px / 4:
        around = (best[:, None] + AROUND * finer_px).reshape(-1, 2)
        best = glance.promising(np.concatenate([best, fan.allowed(around)]), most)
    return best


def _not_beaten(stars: list[Star], fan: Fan) -> list[Star]:
    """Leave out stars with the same gaps as another whose strokes all cost less."""
    alike: dict[object, list[Star]] = {}
    for star in sorted(stars, key=lambda star: float(star.cost.sum())):
        kept = alike.setdefault(_gaps(star), [])
        beaten = any((other.cost <= star.cost).all() for other in kept)
        if not beaten and fan.holds_eyes(star):
            kept.append(star)
    return [star for group in alike.values() for star in group]


def _gaps(star: Star) -> object:
    """Return what lies in each slot, in an order that all stars of a part share."""
    slots = [
        frozenset(id(item) for item in [*units, *eyes, *seams])
        for units, eyes, seams in zip(star.units, star.eyes, star.seams, strict=True)
    ]
    # The first stroke may lie anywhere: turn the slot with the least id to the front.
    start = min(range(len(slots)), key=lambda k: min(slots[k]))
    return tuple(slots[start:] + slots[:start]), start
