"""Perspective: what is nearer to the camera looks larger.

The height field is taken from straight above, so the clump itself is swollen and
spread with its height over the bench; the picture's scale holds on the bench. Spheres
stay spheres, and every mark keeps its place on its sphere.
"""

from dataclasses import replace

import numpy as np

from eyefind.workshop.anatomy import WART_MM, Clump, Mark, Tube, Vector
from eyefind.workshop.pose import Posed

NEAREST_MM = 420.0
FAR_SHARE = 0.3
"""Share of pictures taken from so far that nothing looks larger."""
STEEPEST = 0.5
"""Nothing rises further than this share of the way to the camera."""


def draw_distance(rng: np.random.Generator) -> float:
    """Draw how far the camera is from the bench, mm; may be infinite."""
    inverse = rng.uniform(1 / 3000, 1 / NEAREST_MM)
    return float("inf") if rng.random() < FAR_SHARE else float(1 / inverse)


def seen_from_near(posed: Posed, distance_mm: float) -> Posed:
    """Swell a clump as a camera at this distance sees it.

    Parameters
    ----------
    posed : Posed
        In the camera frame, true to size.
    distance_mm : float
        From the camera to the bench under the clump's middle.

    Returns
    -------
    Posed
        For drawing and for places in the picture; measures must come from `posed`.
    """
    if np.isinf(distance_mm):
        return posed
    clump = posed.clump
    eye = _Eye(distance_mm, clump.ball_places[:, :2].mean(axis=0), posed.slope)
    tubes = [
        replace(
            tube,
            points=eye.spread(tube.points),
            radius=tube.radius * eye.swell(tube.points),
        )
        for tube in clump.tubes
    ]
    balls = clump.ball_radii * eye.swell(clump.ball_places)
    seen = replace(
        clump,
        ball_places=eye.spread(clump.ball_places),
        ball_radii=balls,
        tubes=tubes,
        marks=[eye.moved(mark, clump) for mark in clump.marks],
    )
    return replace(posed, clump=seen)


class _Eye:
    """Where the camera is, and what it does to places (N, 3) in mm."""

    def __init__(self, distance_mm: float, middle: Vector, slope: Vector) -> None:
        self._distance, self._middle, self._slope = distance_mm, middle, slope

    def _height(self, places: Vector) -> Vector:
        height = places[:, 2] - places[:, :2] @ self._slope
        return np.asarray(np.minimum(height, STEEPEST * self._distance))

    def swell(self, places: Vector) -> Vector:
        """Magnification, 1 on the bench."""
        away = self._distance - self._height(places)
        return np.asarray(self._distance / away)

    def spread(self, places: Vector) -> Vector:
        """Move places outwards; heights grow along, so that shapes stay alike."""
        swell = self.swell(places)[:, None]
        flat = self._middle + (places[:, :2] - self._middle) * swell
        rise = self._distance * np.log(swell[:, 0])
        rise += places[:, 2] - places[:, :2] @ self._slope - self._height(places)
        return np.column_stack([flat, flat @ self._slope + rise])

    def moved(self, mark: Mark, clump: Clump) -> Mark:
        """Keep a mark at its place on the sphere that carries it."""
        middle = _carrier(mark, clump)[None]
        swell = float(self.swell(middle)[0])
        return replace(
            mark,
            place=self.spread(middle)[0] + swell * (mark.place - middle[0]),
            radius=mark.radius * swell,
            height=mark.height * swell,
        )


def _carrier(mark: Mark, clump: Clump) -> Vector:
    """Middle of the sphere that a mark sits on."""
    if mark.on == "crown":
        firm = clump.ball_radii > WART_MM
        balls = clump.ball_places[firm]
        gaps = np.linalg.norm(balls - mark.place, axis=1) - clump.ball_radii[firm]
        return np.asarray(balls[np.argmin(np.abs(gaps))])
    tube = next(tube for tube in clump.tubes if tube.id == mark.on)
    return _nearest(tube, mark.place)


def _nearest(tube: Tube, place: Vector) -> Vector:
    gaps = np.linalg.norm(tube.points - place, axis=1)
    return np.asarray(tube.points[np.argmin(gaps)])
