"""Brute force over straight strokes to a common hub: slow, simple, apart."""

from itertools import combinations

import numpy as np
import shapely
from shapely import Point, Polygon

HUB_STEP_PX = 12.0
RAY_STEP_DEG = 5.0


def most_safe(clump, said, margin_px, clearance_px, safe_chance) -> int:
    """Return the most safe pieces that any hub and any subset of rays make."""
    anatomy = clump.anatomy
    eyes = [flag for flag in clump.flags if flag.kind == "eye"]
    crown = Polygon(anatomy.crown_outline_px)
    blocked = shapely.union_all(
        [Polygon(t.outline_px).buffer(margin_px) for t in anatomy.tubers]
        + [
            Point(e.row_px, e.col_px).buffer(e.size_mm / 2 * 4.0 + clearance_px)
            for e in eyes
        ]
    )
    shapely.prepare(blocked)
    chances = np.array([1.0 if e.id in said else e.likelihood for e in eyes])
    necks = np.array([tuber.neck_rc_px for tuber in anatomy.tubers])
    places = np.array([(e.row_px, e.col_px) for e in eyes]).reshape(-1, 2)
    best = int(_safe(chances, safe_chance))
    top, left, bottom, right = crown.bounds
    for row in np.arange(top, bottom, HUB_STEP_PX):
        for col in np.arange(left, right, HUB_STEP_PX):
            hub = Point(row, col)
            if not crown.contains(hub) or blocked.intersects(hub):
                continue
            rays = _free_rays(row, col, crown, blocked)
            there = _angles(necks, row, col), _angles(places, row, col)
            best = max(best, _best_subset(rays, *there, chances, safe_chance, best))
    return best


def _safe(chances, safe_chance) -> bool:
    return 1 - np.prod(1 - chances) >= safe_chance - 1e-12


def _angles(points, row, col):
    return np.arctan2(points[:, 1] - col, row - points[:, 0]) % (2 * np.pi)


def _free_rays(row, col, crown, blocked):
    angles = np.deg2rad(np.arange(0, 360, RAY_STEP_DEG))
    ends = np.stack([row - 3000 * np.cos(angles), col + 3000 * np.sin(angles)], axis=1)
    hubs = np.broadcast_to([row, col], ends.shape)
    lines = shapely.intersection(
        shapely.linestrings(np.stack([hubs, ends], axis=1)), crown
    )
    return angles[~shapely.intersects(blocked, lines)]


def _best_subset(rays, necks, places, chances, safe_chance, least) -> int:
    alike = {}
    for ray in rays:
        alike.setdefault((tuple(necks < ray), tuple(places < ray)), ray)
    different = sorted(alike.values())
    best = 0
    for size in range(least + 1, min(len(different), len(necks)) + 1):
        if size < 2:
            continue
        for chosen in combinations(different, size):
            safe = 0
            for k, low in enumerate(chosen):
                span = (chosen[(k + 1) % size] - low) % (2 * np.pi)
                if not ((necks - low) % (2 * np.pi) < span).any():
                    break
                inside = (places - low) % (2 * np.pi) < span
                safe += _safe(chances[inside], safe_chance)
            else:
                best = max(best, safe)
    return best
