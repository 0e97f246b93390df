"""The hard rules that every cut must keep, asked of one drawn path at a time."""

from collections.abc import Container, Iterable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from eyefind.plan.parts import Body
from eyefind.plan.standing import Eye

SLACK_PX = 0.4
"""What is blocked is drawn this much larger, and its outline is simplified by less."""
NEAR_MM = 8.0
"""Tubers are looked at this far around the crown when it is divided."""


class Guard:
    """Knows what no cut may touch.

    Parameters
    ----------
    bodies : iterable of Body
        The tubers that stay.
    eyes : sequence of Eye
        The eyes that count.
    margin_px : float
        Least distance between a cut and a tuber that stays.
    """

    def __init__(
        self, bodies: Iterable[Body], eyes: Sequence[Eye], margin_px: float
    ) -> None:
        self.bodies = [body for body in bodies if not body.shape.is_empty]
        self.eyes = list(eyes)
        self.margin_px = margin_px
        self._shapes = np.array([b.shape | b.root for b in self.bodies], dtype=object)
        shapely.prepare(self._shapes)
        self._placed = [eye for eye in self.eyes if not eye.side]
        self._places = np.array([eye.place for eye in self._placed], dtype=object)
        self._reach = np.array([eye.guard_px for eye in self._placed])

    def allows(
        self,
        paths: Sequence[LineString] | NDArray[np.object_],
        own: Container[str] = (),
    ) -> NDArray[np.bool_]:
        """Say for each path whether it keeps the rules; `own` tubers may be cut."""
        lines = np.array(paths, dtype=object)[:, None]
        others = np.array([body.id not in own for body in self.bodies], dtype=bool)
        # The prepared shapes come first: that is what makes them quick.
        touches = shapely.dwithin(self._shapes[others][None], lines, self.margin_px)
        near = shapely.dwithin(lines, self._places[None], self._reach[None])
        free: NDArray[np.bool_] = ~(touches.any(axis=1) | near.any(axis=1))
        return free

    def objection(self, path: LineString, own: Container[str] = ()) -> str | None:
        """Say in words which rule a path would break; None if it breaks none."""
        for eye in self._placed:
            if shapely.dwithin(path, eye.place, eye.guard_px):
                return f"it would come too close to eye {eye.id}"
        for body, shape in zip(self.bodies, self._shapes, strict=True):
            if body.id in own:
                continue
            if shapely.dwithin(path, shape, self.margin_px):
                return f"it would cut into {body.id} or its neck"
        return None

    def blocked(self, core: Polygon, px_per_mm: float) -> shapely.Geometry:
        """Return everything near `core` that no stroke may touch, prepared."""
        near = core.buffer(NEAR_MM * px_per_mm)
        shapes = [
            shape.intersection(near).buffer(self.margin_px + SLACK_PX)
            for shape in self._shapes
        ]
        # A drawn disc lies inside the true circle: a little more makes up for it.
        discs = [
            eye.place.buffer(1.01 * eye.guard_px + SLACK_PX) for eye in self._placed
        ]
        # Few corners make it quick to ask; the slack makes up for those taken out.
        whole = shapely.union_all(shapes + discs).simplify(0.8 * SLACK_PX)
        shapely.prepare(whole)
        return whole
