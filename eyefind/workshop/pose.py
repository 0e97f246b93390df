"""Lays a clump on the bench and turns everything towards the camera.

Camera frame: x right, y down the picture, z towards the camera; mm. The projection
is orthographic: one scale holds for the whole picture.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from eyefind.workshop.anatomy import Clump, Tube, Vector

View = Literal["above", "oblique", "side"]
LEAN_DEG: dict[View, tuple[float, float]] = {
    "above": (0, 18),
    "oblique": (28, 60),
    "side": (72, 95),
}
"""How far the stem leans away from the camera's axis, by view."""


@dataclass(frozen=True, eq=False)
class Posed:
    """A clump as the camera sees it.

    Attributes
    ----------
    clump : Clump
        In the camera frame.
    turn : (3, 3) array
        Rotation from the clump's frame to the camera's.
    slope : (2,) array
        Height of the bench: ``slope[0] * x + slope[1] * y``.
    """

    clump: Clump
    turn: Vector
    slope: Vector


def _about_z(angle: float) -> Vector:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])


def _about_x(angle: float) -> Vector:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[1.0, 0, 0], [0, c, -s], [0, s, c]])


def pose(rng: np.random.Generator, clump: Clump, view: View, tilt_deg: float) -> Posed:
    """Lay the clump down and turn it to the camera.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    clump : Clump
        In its own frame.
    view : str
        How it is seen.
    tilt_deg : float
        Angle between the camera's axis and the bench's normal.

    Returns
    -------
    Posed
        In the camera frame.
    """
    lean = np.radians(rng.uniform(*LEAN_DEG[view]))
    heading = rng.uniform(0, 2 * np.pi) if rng.random() < 0.35 else rng.normal(0, 0.4)
    turn = _about_z(heading) @ _about_x(lean) @ _about_z(rng.uniform(0, 2 * np.pi))
    lying = _turned(clump, turn)
    _rest(lying)
    tilt = _about_z(rng.normal(0, 0.5)) @ _about_x(np.radians(tilt_deg))
    normal = tilt @ np.array([0, 0, 1.0])
    return Posed(_turned(lying, tilt), tilt @ turn, -normal[:2] / normal[2])


def _turned(clump: Clump, turn: Vector) -> Clump:
    return replace(
        clump,
        ball_places=clump.ball_places @ turn.T,
        tubes=[replace(tube, points=tube.points @ turn.T) for tube in clump.tubes],
        marks=[
            replace(mark, place=turn @ mark.place, normal=turn @ mark.normal)
            for mark in clump.marks
        ],
    )


def _rest(clump: Clump) -> None:
    """Set the clump down on z = 0; what would sink in bends up."""
    lows = [clump.ball_places[:, 2] - clump.ball_radii]
    lows += [_lows(tube)[::4] for tube in clump.tubes if tube.radius.max() > 4]
    crown_low = float(lows[0].min())
    drop = min(crown_low, float(np.quantile(np.concatenate(lows), 0.12)))
    shift = np.array([0, 0, -drop])
    clump.ball_places = clump.ball_places + shift
    for mark in clump.marks:
        mark.place = mark.place + shift
    lifted: dict[str, tuple[Vector, Vector]] = {}
    for tube in clump.tubes:
        before = _hang(tube, tube.points + shift)
        up = np.maximum(tube.radius * 0.92 - before[:, 2], 0)
        host = lifted.get(tube.attached_to)
        if host is not None:
            nearest = int(np.argmin(np.linalg.norm(host[0] - before[0], axis=1)))
            up = np.maximum(up, host[1][nearest])
        tube.points = before + up[:, None] * [0, 0, 1.0]
        if tube.id:
            lifted[tube.id] = (before, up)
    _lift_marks(clump, lifted)


def _hang(tube: Tube, points: Vector) -> Vector:
    """Let thin roots and thin ends hang down under their weight."""
    if tube.kind not in ("root", "rat_tail") and tube.tail < 0:
        return points
    start = max(tube.tail, 0) if tube.kind not in ("root", "rat_tail") else 0
    run = np.maximum(tube.along - tube.along[start], 0)
    slack = 1.0 if tube.kind == "root" else 0.45
    drop = slack * run**2 / (run + 12)
    return np.asarray(points - drop[:, None] * [0, 0, 1.0])


def _lows(tube: Tube) -> Vector:
    return np.asarray(tube.points[:, 2] - tube.radius)


def _lift_marks(clump: Clump, lifted: dict[str, tuple[Vector, Vector]]) -> None:
    for mark in clump.marks:
        if mark.on in lifted:
            before, up = lifted[mark.on]
            nearest = int(np.argmin(np.linalg.norm(before - mark.place, axis=1)))
            mark.place = mark.place + np.array([0, 0, up[nearest]])
