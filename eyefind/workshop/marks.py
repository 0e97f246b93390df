"""Puts eyes on the collars, and everywhere what could be taken for one."""

import numpy as np

from eyefind.workshop.anatomy import Clump, EyeColour, Mark, MarkKind, Tube, Vector
from eyefind.workshop.grains import grain, strew_crumbs
from eyefind.workshop.tones import ROTS, spread

EYES: dict[EyeColour, tuple[float, tuple[float, float, float]]] = {
    "skin": (0.22, (0.0, 0.0, 0.0)),
    "pale": (0.34, (0.88, 0.81, 0.65)),
    "pink": (0.20, (0.80, 0.50, 0.46)),
    "red": (0.12, (0.58, 0.20, 0.22)),
    "green": (0.12, (0.56, 0.60, 0.34)),
}
"""Share and sRGB colour of each kind of eye (growers' reports; no statistics)."""
EYES_APART_MM = 0.6
"""Eyes are at least this far apart, rim to rim."""
GRAINS = 0.45
"""Share of eyes like grains: egg-shaped, smooth, sharply bounded."""
LOOKS_APART_MM = -0.5
"""Root scars and clods come nearer; they may touch."""
FLESH = np.array([0.88, 0.82, 0.66])
SOIL = np.array([0.30, 0.23, 0.17])


def put_marks(
    rng: np.random.Generator,
    clump: Clump,
    with_eyes: bool | None,
    with_soft: bool | None,
) -> None:
    """Add eyes, sprouts, look-alikes and soft patches to a clump, in place.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    clump : Clump
        Gets its marks; sprouts become tubes.
    with_eyes, with_soft : bool or None
        Whether there must be some; None leaves it to chance.
    """
    favourite = _draw_colour(rng)
    eager = rng.random() < 0.3
    # On one clump eyes look alike: mostly grains, or mostly not.
    grains = float(np.clip(GRAINS + rng.choice([-1, 1]) * rng.uniform(0.1, 0.45), 0, 1))
    for tube in [t for t in clump.tubes if t.attached_to == "crown"]:
        if tube.kind == "tuber" or (tube.kind == "spent_parent" and rng.random() < 0.2):
            _put_eyes(rng, clump, tube, favourite, eager, grains, with_eyes)
    eyes = len(clump.marks)
    for _ in range(int(eyes * rng.uniform(3, 6)) + 14):
        mark = _on_crown(rng, clump)
        if not _crowded(clump, mark, LOOKS_APART_MM):
            clump.marks.append(mark)
    strew_crumbs(rng, clump, int(rng.integers(0, 14)))
    bumpy = int(rng.choice([0, 2, 5], p=[0.4, 0.35, 0.25]))
    for tube in list(clump.tubes):
        if tube.kind in ("tuber", "tuber_on_tuber", "spent_parent"):
            for _ in range(int(rng.integers(1, 11))):
                clump.marks.append(_on_body(rng, tube))
            for _ in range(int(rng.integers(0, bumpy + 1))):
                clump.marks.append(_bump(rng, clump, tube, favourite))
    soft = rng.random() < 0.5 if with_soft is None else with_soft
    hosts = [t for t in clump.tubes if t.kind == "tuber"]
    for _ in range(int(rng.integers(1, 4)) if soft else 0):
        _put_soft(rng, clump, hosts[rng.integers(len(hosts))])


def _draw_colour(rng: np.random.Generator) -> EyeColour:
    shares = np.array([share for share, _ in EYES.values()])
    return list(EYES)[rng.choice(len(EYES), p=shares / shares.sum())]


def _put_eyes(
    rng: np.random.Generator,
    clump: Clump,
    tube: Tube,
    favourite: EyeColour,
    eager: bool,
    grains: float,
    must: bool | None,
) -> None:
    count = int(rng.choice(4, p=[0.2, 0.42, 0.26, 0.12]))
    if must:
        count = max(count, 1)
    reach = np.linalg.norm(tube.points[2])
    out = tube.points[2] / reach
    neck = tube.radius[2] / reach
    for _ in range(count if must is not False else 0):
        up = np.array([0.0, 0.0, 1.0]) - out * out[2]
        up /= np.linalg.norm(up) + 1e-6
        side = np.cross(out, up)
        lift = 0.4 * neck + rng.uniform(0.05, 0.65)
        way = out + up * lift + side * rng.normal(0, 0.3)
        place, normal = clump.exit_of(way / np.linalg.norm(way))
        mark = _bud(rng, "eye", clump, place, normal, favourite)
        mark.belongs_to = tube.id
        mark.sprout = bool(eager and rng.random() < 0.5)
        if _crowded(clump, mark, EYES_APART_MM):
            continue
        clump.marks.append(mark)
        if not mark.sprout and rng.random() < grains:
            _swell(rng, clump, mark)
        if mark.sprout:
            clump.tubes.append(_sprout(rng, mark))


def _swell(rng: np.random.Generator, clump: Clump, mark: Mark) -> None:
    """Turn an eye or bump into a grain that stands out of the surface, in place."""
    tube = grain(rng, mark, f"B{len(clump.tubes)}")
    clump.tubes.append(tube)
    mark.on, mark.tint, mark.height, mark.ring = tube.id, 0.0, 0.0, 0.0


def _bud(
    rng: np.random.Generator,
    kind: MarkKind,
    clump: Clump,
    place: Vector,
    normal: Vector,
    favourite: EyeColour,
) -> Mark:
    """Draw an eye, or a bump that looks like one: flat, round or swollen."""
    colour = favourite if rng.random() < 0.7 else _draw_colour(rng)
    radius = float(np.clip(np.exp(rng.normal(np.log(1.6), 0.38)), 0.5, 3.2))
    skin = colour == "skin"
    tint = clump.bark * rng.uniform(0.9, 1.35) if skin else np.array(EYES[colour][1])
    steep = (rng.uniform(0.1, 0.4), rng.uniform(0.4, 1.0), rng.uniform(0.9, 1.5))
    # Dust dulls an eye as it dulls the crown around it.
    clean = 1 - rng.uniform(0, 0.6) * clump.dust
    return Mark(
        kind,
        place,
        normal,
        radius,
        radius * steep[rng.choice(3, p=[0.2, 0.55, 0.25])],
        spread(rng, tint, 0.1, 0.025),
        float(rng.uniform(0.25, 0.6) if skin else rng.uniform(0.45, 1) * clean),
        eye_colour=colour,
        ring=float(rng.choice([0, rng.uniform(0.2, 1)], p=[0.55, 0.45])),
    )


def _bump(
    rng: np.random.Generator, clump: Clump, tube: Tube, favourite: EyeColour
) -> Mark:
    """Put on a body what would be an eye on a collar: only the place tells."""
    spot = int(rng.integers(tube.neck_end + 3, max(tube.end - 2, tube.neck_end + 4)))
    place, normal = surface_of(rng, tube, min(spot, len(tube.points) - 2))
    mark = _bud(rng, "bump", clump, place, normal, favourite)
    mark.on = tube.id
    if mark.eye_colour == "skin":
        mark.colour = np.clip(tube.colour * rng.uniform(0.8, 1.2), 0, 1)
    if rng.random() < 0.3:
        _swell(rng, clump, mark)
    return mark


def _crowded(clump: Clump, mark: Mark, apart_mm: float) -> bool:
    """Whether a mark would come nearer than this to an eye that is already there."""
    return any(
        np.linalg.norm(mark.place - other.place)
        < apart_mm + 1.2 * (mark.radius + other.radius)
        for other in clump.marks
        if other.kind == "eye"
    )


def _sprout(rng: np.random.Generator, mark: Mark) -> Tube:
    length, count = rng.uniform(2.5, 9), 12
    along = np.linspace(0, 1, count)[:, None]
    bend = rng.normal(0, 0.3, 3)
    points = mark.place + length * (along * mark.normal + along**2 * bend)
    radius = mark.radius * 0.75 * (1 - 0.75 * along[:, 0] ** 2)
    return Tube("sprout", "", points, radius, colour=mark.colour)


LOOKS: dict[MarkKind, tuple[float, float, float, float]] = {
    "knob": (0.7, 3.8, 0.25, 0.9),
    "pit": (0.5, 2.2, -0.9, -0.3),
    "scar": (0.6, 2.4, 0.05, 0.35),
    "clod": (0.7, 5.0, 0.3, 0.8),
    "nick": (0.7, 4.0, -0.3, -0.05),
    "flake": (1.0, 6.0, 0.05, 0.25),
    "drop": (0.4, 1.8, 0.2, 0.5),
}
"""Of each look-alike: radius in mm from, to; height over radius from, to."""


def _look(
    rng: np.random.Generator,
    kind: MarkKind,
    place: Vector,
    normal: Vector,
    on: str,
    under: Vector,
) -> Mark:
    """Draw a look-alike on a surface of the colour `under`."""
    low, high, flat, steep = LOOKS[kind]
    radius = (
        rng.uniform(low, high) if rng.random() < 0.5 else rng.uniform(low, low * 1.8)
    )
    colours = {
        "clod": SOIL * rng.uniform(0.6, 1.5),
        "nick": FLESH * rng.uniform(0.55, 1.05),
        "flake": FLESH * rng.uniform(0.4, 0.85),
        "scar": SOIL * rng.uniform(0.7, 1.8),
        "pit": SOIL * rng.uniform(0.5, 1.2),
        "knob": under * rng.uniform(0.7, 1.4),
        "drop": under,
    }
    tint = {"clod": 0.95, "nick": 0.9, "flake": 0.5, "scar": 0.6, "pit": 0.5}
    return Mark(
        kind,
        place,
        normal,
        radius,
        radius * rng.uniform(flat, steep),
        spread(rng, colours[kind], 0.05, 0.015),
        tint.get(kind, float(rng.uniform(0, 0.6))),
        on=on,
    )


def _on_crown(rng: np.random.Generator, clump: Clump) -> Mark:
    way = rng.normal(0, 1, 3)
    place, normal = clump.exit_of(way / np.linalg.norm(way))
    kind = list(LOOKS)[rng.choice(7, p=[0.33, 0.14, 0.2, 0.12, 0.06, 0.12, 0.03])]
    return _look(rng, kind, place, normal, "crown", clump.bark)


def _on_body(rng: np.random.Generator, tube: Tube) -> Mark:
    spot = int(rng.integers(tube.neck, max(tube.end - 2, tube.neck + 1)))
    place, normal = surface_of(rng, tube, spot)
    kind = list(LOOKS)[rng.choice(7, p=[0.2, 0.14, 0.31, 0.1, 0.13, 0.08, 0.04])]
    return _look(rng, kind, place, normal, tube.id, tube.colour)


def surface_of(
    rng: np.random.Generator, tube: Tube, spot: int
) -> tuple[Vector, Vector]:
    """Draw a place on a tube's surface around its point `spot`, and its normal."""
    ahead = tube.points[min(spot + 1, len(tube.points) - 1)]
    way = ahead - tube.points[max(spot - 1, 0)]
    out = rng.normal(0, 1, 3)
    out -= way * (out @ way) / (way @ way)
    out /= np.linalg.norm(out)
    return tube.points[spot] + out * tube.radius[spot], out


def _put_soft(rng: np.random.Generator, clump: Clump, tube: Tube) -> None:
    spot = int(rng.integers(tube.neck_end, max(tube.end - 4, tube.neck_end + 1)))
    place, normal = surface_of(rng, tube, spot)
    radius = float(tube.radius[spot] * rng.uniform(0.5, 1.1))
    colour = spread(rng, ROTS[rng.integers(len(ROTS))], 0.2, 0.02)
    depth = -radius * rng.uniform(0.02, 0.22)
    clump.marks.append(
        Mark(
            "soft",
            place,
            normal,
            radius,
            depth,
            colour,
            rng.uniform(0.6, 0.95),
            on=tube.id,
        )
    )
