"""The phone's camera: where it stands, what falls where, what each pixel shows."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from eyefind.workshop.traced.build import Clump
from eyefind.workshop.traced.mesh import Ints, unit
from eyefind.workshop.traced.noise3 import Floats

FAR_MM = (250.0, 500.0)
FIELD_MM = (170.0, 380.0)
"""Least and greatest width of what is seen at the crown's distance."""
CLOSE_MM = (75.0, 120.0)
"""The same of a close-up."""
VIEWS = {"above": (68, 88), "oblique": (32, 62), "side": (10, 26)}
"""Elevation of the camera, degrees."""
SHAKE_PX = 2.0
"""How far a frame of a set may lie off the main one, in rows and in columns."""


@dataclass(frozen=True)
class Camera:
    """A perspective camera.

    Attributes
    ----------
    eye : (3,) array
        Middle of the lens, mm.
    axes : (3, 3) array
        Rows: right, down, forward.
    focal_px : float
        Distance of the image plane.
    width, height : int
        Size of the picture, px.
    focus_mm, lens_mm : float
        Distance of sharpness; radius of the lens.
    view : str
        In a word.
    px_per_mm : float
        At the crown.
    """

    eye: Floats
    axes: Floats
    focal_px: float
    width: int
    height: int
    focus_mm: float
    lens_mm: float
    view: str
    px_per_mm: float

    def to_px(self, places: Floats) -> Floats:
        """Return (row, col) px, (..., 2), of places, (..., 3) mm; middles whole."""
        right, down, ahead = np.moveaxis((places - self.eye) @ self.axes.T, -1, 0)
        row = self.focal_px * down / ahead + self.height / 2 - 0.5
        col = self.focal_px * right / ahead + self.width / 2 - 0.5
        return np.stack([row, col], -1)

    def frames(self, places: Floats) -> bool:
        """Whether the picture holds all of some places, (N, 3) mm before the lens."""
        return bool(
            np.all(
                (self.to_px(places) >= 0)
                & (self.to_px(places) <= (self.height - 1, self.width - 1))
            )
        )

    def rays(self, rows: Floats, cols: Floats) -> Floats:
        """Return unit directions, (N, 3), through places in px."""
        down = (rows + 0.5 - self.height / 2) / self.focal_px
        right = (cols + 0.5 - self.width / 2) / self.focal_px
        return unit(np.stack([right, down, np.ones_like(down)], -1) @ self.axes)


def draw_camera(
    rng: np.random.Generator, clump: Clump, width: int, close: bool = False
) -> Camera:
    """Draw where the phone is held.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    clump : Clump
        On the bench.
    width : int
        Of the picture, px.
    close : bool
        Show a square around the crown only.

    Returns
    -------
    Camera
        Looking at the clump.
    """
    odds = [0.2, 0.55, 0.25] if clump.lying else [0.45, 0.4, 0.15]
    view = str(rng.choice(list(VIEWS), p=odds))
    rise = np.radians(rng.uniform(*VIEWS[view]))
    crown = clump.on_bench(np.zeros(3))
    turn = rng.uniform(0, 2 * np.pi)
    back = np.array(
        [np.cos(rise) * np.cos(turn), np.cos(rise) * np.sin(turn), np.sin(rise)]
    )
    grown = clump.mesh.vertices[:: max(len(clump.mesh.vertices) // 4000, 1)]
    middle = 0.5 * (np.percentile(grown, 2, axis=0) + np.percentile(grown, 98, axis=0))
    near = bool(rng.random() < 0.35)
    aside = 0.0 if close else 0.25 if near else 0.7
    target = crown + aside * (middle - crown)
    target = target + rng.normal(0, 5, 3) * np.array([1, 1, 0.3])
    far = rng.uniform(*FAR_MM)
    eye = target + far * back
    forward = -back
    right = unit(np.cross(forward, np.array([0, 0, 1.0]) + rng.normal(0, 0.07, 3)))
    axes = np.stack([right, np.cross(forward, right), forward])
    height = round(width * 3 / 4) if rng.random() < 0.75 else round(width * 4 / 3)
    across = (grown - eye) @ axes.T
    seen = across[:, :2] / across[:, 2:] * far
    low, high = np.percentile(seen, [1, 99], axis=0)
    span = np.maximum(np.abs(low), np.abs(high)) * 2
    share = rng.uniform(0.55, 0.8) if near else rng.uniform(1.05, 1.3)
    field = float(np.clip(max(span[0], span[1] * width / height) * share, *FIELD_MM))
    if close:
        field, height = rng.uniform(*CLOSE_MM), width
    depth = float((crown - eye) @ forward)
    focal = width * far / field
    return Camera(
        eye, axes, focal, width, height,
        depth + rng.normal(0, 7), rng.uniform(0.5, 1.7), view, focal / depth,
    )  # fmt: skip


def shaken(
    rng: np.random.Generator, camera: Camera, middle: Floats
) -> tuple[Camera, tuple[float, float]]:
    """Move a camera a little sideways, as a hand or a soft stand does.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    camera : Camera
        The camera.
    middle : (3,) array
        Place of the crown.

    Returns
    -------
    camera : Camera
        Beside it, looking the same way.
    motion_px : (float, float)
        How far the crown moved in the picture; other places move by parallax.
    """
    shift_px = rng.uniform(-SHAKE_PX, SHAKE_PX, 2)
    eye = camera.eye + shift_px @ camera.axes[:2] / camera.px_per_mm
    beside = replace(camera, eye=eye)
    down, right = beside.to_px(middle) - camera.to_px(middle)
    return beside, (float(down), float(right))


def hits(scene: Any, camera: Camera, rows: Floats, cols: Floats) -> Ints:
    """Return the triangle that each place of the picture shows, -1 for none.

    Parameters
    ----------
    scene : mitsuba.Scene
        One single mesh.
    camera : Camera
        Taken as a pinhole.
    rows, cols : (N,) array
        Places, px.

    Returns
    -------
    (N,) int array
        Triangles.
    """
    import mitsuba as mi

    ways = camera.rays(rows, cols).astype(np.float32)
    ray = mi.Ray3f(
        mi.Point3f(*(float(v) for v in camera.eye)),
        mi.Vector3f(*(mi.Float(np.ascontiguousarray(w)) for w in ways.T)),
    )
    found = scene.ray_intersect_preliminary(ray, coherent=True)
    index = np.array(found.prim_index).astype(np.int64)
    return np.where(np.array(found.is_valid()), index, -1)
