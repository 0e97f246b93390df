"""A painted clump: simple shapes whose truth is known exactly, for the tests.

A disc for the crown, a stem upwards, tubers around it with a narrow neck each, one
eye a tuber on the collar. It looks like nothing that grows; it is for geometry.
"""

from dataclasses import dataclass

import numpy as np
from shapely import Point, Polygon, union_all
from skimage.draw import disk, polygon

from eyefind.data import Anatomy, Flag, Pixels, Points, Scale, Stem, Tuber

SKIN = (196, 160, 118)
CROWN = (160, 124, 88)
STEM = (128, 138, 82)
PARENT = (92, 66, 48)
EYE = (226, 150, 150)
MAT = (62, 70, 84)


@dataclass(frozen=True, eq=False)
class Painted:
    """Picture and truth of one painted clump."""

    rgb: Pixels
    scale: Scale
    anatomy: Anatomy
    flags: list[Flag]


def painted_clump(
    tubers: int = 5,
    px_per_mm: float = 4.0,
    parent: bool = True,
    side_tuber: bool = True,
    shape: tuple[int, int] = (1200, 1200),
) -> Painted:
    """Paint a clump.

    The last of the tubers is the spent parent when `parent`; with `side_tuber` a
    further tuber grows from the first one.
    """
    rgb = np.empty((*shape, 3), np.uint8)
    rgb[:] = MAT
    centre = np.array(shape) / 2.0
    crown_mm = 22.0
    crown = Point(*centre).buffer(crown_mm * px_per_mm)
    stem = _stem(centre, crown_mm, px_per_mm)
    bodies = []
    for number, angle in enumerate(np.linspace(-2.2, 2.2, tubers)):
        # 0 points straight down; the stem takes the top.
        direction = np.array([np.cos(angle), np.sin(angle)])
        start = centre + direction * (crown_mm - 1.0) * px_per_mm
        bodies.append(
            _tuber(f"T{number + 1}", start, direction, px_per_mm, "crown", 1.0)
        )
    if side_tuber:
        host = bodies[0]
        along = host.axis_px[-1] - host.axis_px[-2]
        along = along / np.hypot(*along)
        across = np.array([-along[1], along[0]])
        place = host.axis_px[len(host.axis_px) * 2 // 3] + across * 9.0 * px_per_mm
        bodies.append(_tuber(f"T{tubers + 1}", place, across, px_per_mm, "T1", 0.6))
    flags = _flags(bodies[:tubers], centre, px_per_mm, parent, side_tuber)
    _fill(rgb, stem.outline_px, STEM)
    for body in bodies:
        dark = parent and body.id == f"T{tubers}"
        _fill(rgb, body.outline_px, PARENT if dark else SKIN)
    _fill(rgb, _points(crown), CROWN)
    for flag in flags:
        if flag.kind == "eye":
            radius_px = flag.size_mm / 2 * px_per_mm
            rgb[disk((flag.row_px, flag.col_px), radius_px, shape=shape)] = EYE
    whole = union_all([crown, *(Polygon(p.outline_px) for p in [stem, *bodies])])
    anatomy = Anatomy(_points(whole), _points(crown), [stem], bodies)
    return Painted(rgb, Scale(px_per_mm, "card", 0.01), anatomy, flags)


def _points(shape: Polygon) -> Points:
    return np.array(shape.exterior.coords)[:-1]


def _fill(rgb: Pixels, outline: Points, colour: tuple[int, int, int]) -> None:
    rgb[polygon(outline[:, 0], outline[:, 1], shape=rgb.shape[:2])] = colour


def _stem(centre: Points, crown_mm: float, px_per_mm: float) -> Stem:
    half, long = 9.0 * px_per_mm, 80.0 * px_per_mm
    base = centre[0] - (crown_mm - 3.0) * px_per_mm
    corners = [(base, -half), (base - long, -half), (base - long, half), (base, half)]
    outline = np.array([(row, centre[1] + col) for row, col in corners])
    axis = np.array([(base, centre[1]), (base - long, centre[1])])
    return Stem("S1", outline, axis, 18.0)


def _tuber(
    name: str,
    start: Points,
    direction: Points,
    px_per_mm: float,
    attached_to: str,
    size: float,
) -> Tuber:
    along_mm = np.linspace(0.0, 90.0 * size, 46)
    neck_at_mm, neck_mm, body_mm = 8.0 * size, 8.0 * size, 30.0 * size
    body = body_mm * np.sin(np.pi * np.clip(along_mm / along_mm[-1], 0, 1)) ** 0.6
    taper = np.clip((along_mm - neck_at_mm) / (18.0 * size), 0, 1)
    width_mm = np.where(
        along_mm <= neck_at_mm,
        neck_mm + (neck_at_mm - along_mm) * 0.6,
        neck_mm + (np.maximum(body, neck_mm) - neck_mm) * taper,
    )
    width_mm[-1] = width_mm[-2] * 0.5
    axis = start + np.outer(along_mm * px_per_mm, direction)
    across = np.array([-direction[1], direction[0]])
    sides = np.outer(width_mm * px_per_mm / 2, across)
    outline = np.concatenate([axis + sides, (axis - sides)[::-1]])
    neck = int(np.argmin(np.abs(along_mm - neck_at_mm)))
    volume_ml = float(np.trapezoid(np.pi / 4 * width_mm**2, along_mm) / 1000)
    return Tuber(
        name,
        outline,
        axis,
        width_mm,
        axis[neck],
        float(width_mm[neck]),
        float(along_mm[-1] - along_mm[neck]),
        float(width_mm.max()),
        volume_ml,
        0.2,
        attached_to,
    )


def _flags(
    bodies: list[Tuber],
    centre: Points,
    px_per_mm: float,
    parent: bool,
    side_tuber: bool,
) -> list[Flag]:
    flags = []
    count = len(bodies)
    for number, body in enumerate(bodies):
        if parent and number == count - 1:
            continue
        inward = centre - body.neck_rc_px
        inward = inward / np.hypot(*inward)
        row, col = body.neck_rc_px + inward * 12.0 * px_per_mm
        flags.append(
            Flag(
                f"E{len(flags) + 1}",
                "eye",
                float(row),
                float(col),
                4.0,
                0.8,
                [f"12 mm above the neck of tuber {body.id}"],
                body.id,
            )
        )
    if parent:
        row, col = bodies[-1].axis_px[len(bodies[-1].axis_px) // 2]
        flags.append(
            Flag(
                "F1",
                "spent_parent",
                float(row),
                float(col),
                bodies[-1].length_mm,
                0.9,
                ["30 L* darker than the other tubers"],
                bodies[-1].id,
                outline_px=bodies[-1].outline_px,
            )
        )
    if side_tuber:
        host = bodies[0]
        row, col = host.axis_px[len(host.axis_px) * 2 // 3]
        flags.append(
            Flag(
                "F2",
                "tuber_on_tuber",
                float(row),
                float(col),
                50.0,
                0.9,
                [f"grows from tuber {host.id}, not from the crown"],
                f"T{count + 1}",
            )
        )
    return flags
