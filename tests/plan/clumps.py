"""Clumps for the tests of plans: tidy ones, and as untidy as a finder may make them."""

from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st
from shapely import Point, affinity, union_all

from eyefind.data import Anatomy, Flag, Points, Scale, Stem, Tuber
from eyefind.plan.shapes import polygon

PPM = 4.0
CENTRE = np.array([600.0, 600.0])
SCALE = Scale(PPM, "card", 0.01)


@dataclass(frozen=True, eq=False)
class Clump:
    """An anatomy with its flags."""

    anatomy: Anatomy
    flags: list[Flag]


def way(degrees: float) -> Points:
    """Unit vector: 0 is up, clockwise."""
    angle = np.deg2rad(degrees)
    return np.array([-np.cos(angle), np.sin(angle)])


def make_tuber(
    name: str,
    start_rc: Points,
    degrees: float,
    attached_to: str = "crown",
    length_mm: float = 90.0,
    neck_mm: float = 7.0,
    body_mm: float = 28.0,
) -> Tuber:
    """Spindle with a narrow neck 8 mm from its start."""
    along = np.linspace(0.0, length_mm, 40)
    neck_at = min(8.0, length_mm / 4)
    swell = np.sin(np.pi * np.clip((along - neck_at) / (length_mm - neck_at), 0, 1))
    width = neck_mm + (body_mm - neck_mm) * np.clip(swell, 0, 1) ** 0.7
    width[along < neck_at] = neck_mm + 0.5
    width[-1] = 1.0
    axis = start_rc + np.outer(along * PPM, way(degrees))
    across = np.array([-way(degrees)[1], way(degrees)[0]])
    sides = np.outer(width * PPM / 2, across)
    neck = int(np.argmin(np.abs(along - neck_at)))
    return Tuber(
        name,
        np.concatenate([axis + sides, (axis - sides)[::-1]]),
        axis,
        width,
        axis[neck],
        float(width[neck]),
        float(along[-1] - along[neck]),
        float(width.max()),
        float(np.trapezoid(np.pi / 4 * width**2, along) / 1000),
        0.2,
        attached_to,
    )


def make_stem(
    name: str, base_rc: Points, degrees: float = 0.0, length_mm: float = 100.0
) -> Stem:
    """Straight stem, 14 mm thick."""
    half = 7.0 * PPM * np.array([-way(degrees)[1], way(degrees)[0]])
    tip = base_rc + way(degrees) * length_mm * PPM
    outline = np.array([base_rc + half, tip + half, tip - half, base_rc - half])
    return Stem(name, outline, np.array([base_rc, tip]), 14.0)


def make_crown(tall_mm: float, wide_mm: float) -> Points:
    """Ellipse around the centre; half axes."""
    disc = Point(*CENTRE).buffer(1.0)
    oval = affinity.scale(disc, tall_mm * PPM, wide_mm * PPM)
    return np.array(oval.exterior.coords)[:-1]


def on_rim(
    degrees: float, tall_mm: float, wide_mm: float, share: float = 1.0
) -> Points:
    """Place at a share of the way from the crown's middle to its rim."""
    row, col = way(degrees)
    reach = 1 / np.hypot(row / tall_mm, col / wide_mm)
    return CENTRE + way(degrees) * reach * PPM * share


def make_eye(name: str, place_rc: Points, owner: str, chance: float = 0.8) -> Flag:
    row, col = (float(x) for x in place_rc)
    return Flag(name, "eye", row, col, 3.0, chance, ["raised"], owner)


def make_flag(
    name: str, kind: str, tuber: Tuber, chance: float = 0.9, at: float = 0.5
) -> Flag:
    row, col = tuber.axis_px[int(at * (len(tuber.axis_px) - 1))]
    return Flag(name, kind, float(row), float(col), 8.0, chance, ["seen"], tuber.id)


def gather(
    crown: Points, stems: list[Stem], tubers: list[Tuber], flags: list[Flag]
) -> Clump:
    parts = [polygon(crown), *(polygon(p.outline_px) for p in [*stems, *tubers])]
    whole = polygon(np.array(union_all(parts).convex_hull.exterior.coords))
    outline = np.array(whole.exterior.coords)
    return Clump(Anatomy(outline, crown, stems, tubers), flags)


def round_clump(angles: list[float], tall: float = 24.0, wide: float = 24.0) -> Clump:
    """One stem upwards, a tuber at each angle, one eye at each collar."""
    tubers, flags = [], []
    for number, angle in enumerate(angles, 1):
        start = on_rim(angle, tall, wide, 0.97)
        tubers.append(make_tuber(f"T{number}", start, angle))
        place = on_rim(angle, tall, wide, 0.75)
        flags.append(make_eye(f"E{number}", place, f"T{number}"))
    stems = [make_stem("S1", CENTRE - [tall * PPM * 0.9, 0.0])]
    return gather(make_crown(tall, wide), stems, tubers, flags)


def two_stemmed() -> Clump:
    """Two stems on a wide crown, three tubers below each, an eye a tuber."""
    tall, wide = 20.0, 48.0
    angles = [280.0, 235.0, 205.0, 155.0, 125.0, 80.0]
    tubers, flags = [], []
    for number, angle in enumerate(angles, 1):
        start = on_rim(angle, tall, wide, 0.97)
        tubers.append(make_tuber(f"T{number}", start, angle, length_mm=70))
        place = on_rim(angle, tall, wide, 0.75)
        flags.append(make_eye(f"E{number}", place, f"T{number}"))
    left, right = np.array([-13.0, -24.0]) * PPM, np.array([-13.0, 24.0]) * PPM
    stems = [
        make_stem("S1", CENTRE + left, -10.0),
        make_stem("S2", CENTRE + right, 10.0),
    ]
    return gather(make_crown(tall, wide), stems, tubers, flags)


REMOVALS = ["spent_parent", "soft", "tuber_on_tuber", "rat_tail", "broken_neck"]
ANSWERS = st.sampled_from(["confirmed", "confirmed", "rejected", "not_sure", None])
chance = st.floats(0.0, 1.0)


@st.composite
def tidy_clumps(draw, removals: bool = True, most: int = 7) -> Clump:
    """Clumps whose outlines are sound: tubers around an oval crown, one or two stems.

    Tubers may overlap one another; eyes sit anywhere on the crown.
    """
    tall, wide = draw(st.floats(16, 30)), draw(st.floats(16, 45))
    count = draw(st.integers(1, most) | st.integers(3, most))
    turn = draw(st.floats(0, 360))
    tubers: list[Tuber] = []
    for number in range(1, count + 1):
        angle = turn + (number + draw(st.floats(-0.35, 0.35))) * 360 / count
        size = draw(st.floats(0.25, 1.5))
        tubers.append(
            make_tuber(
                f"T{number}",
                on_rim(angle, tall, wide, draw(st.floats(0.85, 1.05))),
                angle + draw(st.floats(-25, 25)),
                "crown",
                90 * size,
                draw(st.floats(3, 9)),
                28 * size,
            )
        )
    if draw(st.booleans()):
        host = draw(st.sampled_from(tubers))
        at = host.axis_px[len(host.axis_px) * 2 // 3]
        slant = draw(st.floats(0, 360))
        name = f"T{count + 1}"
        tubers.append(make_tuber(name, at, slant, host.id, 50, 4, 15))
    stems = []
    for number in range(draw(st.integers(0, 4))):
        base = on_rim(draw(st.floats(0, 360)), tall, wide, draw(st.floats(0.2, 0.9)))
        long = draw(st.floats(8, 120))
        stems.append(make_stem(f"S{number + 1}", base, draw(st.floats(-40, 40)), long))
    flags = draw(eyes_on(tubers, tall, wide))
    if removals:
        flags += draw(removal_flags(tubers))
    return gather(make_crown(tall, wide), stems, tubers, flags)


@st.composite
def eyes_on(draw, tubers: list[Tuber], tall: float, wide: float) -> list[Flag]:
    """Up to two eyes on each collar, and a few anywhere on the crown."""
    spots = []
    for tuber in tubers:
        for _ in range(draw(st.integers(0, 2))):
            toward = tuber.neck_rc_px - CENTRE
            angle = np.rad2deg(np.arctan2(toward[1], -toward[0]))
            share = draw(st.floats(0.55, 0.9))
            spots.append((angle + draw(st.floats(-20, 20)), share, tuber.id))
    for _ in range(draw(st.integers(0, 3))):
        owner = draw(st.sampled_from(tubers)).id
        spots.append((draw(st.floats(0, 360)), draw(st.floats(0.3, 0.95)), owner))
    return [
        make_eye(f"E{number}", on_rim(angle, tall, wide, share), owner, draw(chance))
        for number, (angle, share, owner) in enumerate(spots, 1)
    ]


@st.composite
def removal_flags(draw, tubers: list[Tuber]) -> list[Flag]:
    flags = []
    for number in range(draw(st.integers(0, 3))):
        kind = draw(st.sampled_from(REMOVALS))
        tuber = draw(st.sampled_from(tubers))
        at = draw(st.floats(0, 1))
        flags.append(make_flag(f"F{number + 1}", kind, tuber, draw(chance), at))
    return flags


@st.composite
def answers(draw, flags: list[Flag]) -> dict[str, str]:
    words = {flag.id: draw(ANSWERS) for flag in flags}
    return {name: word for name, word in words.items() if word}


@st.composite
def messy_clumps(draw) -> Clump:
    """Clumps with everything wrong that an outline, an axis or a name can be."""
    clump = draw(tidy_clumps())
    anatomy = clump.anatomy
    tubers = [draw(_spoilt(tuber)) for tuber in anatomy.tubers]
    stems = [
        replace(
            stem,
            outline_px=draw(_outline(stem.outline_px)),
            axis_px=draw(st.sampled_from([stem.axis_px, stem.axis_px[:1], nothing])),
        )
        for stem in anatomy.stems
    ]
    flags = [draw(_spoilt_flag(flag)) for flag in clump.flags]
    return Clump(
        replace(
            anatomy,
            clump_outline_px=draw(_outline(anatomy.clump_outline_px)),
            crown_outline_px=draw(_outline(anatomy.crown_outline_px)),
            stems=stems,
            tubers=draw(st.sampled_from([tubers, tubers[:1], []])),
        ),
        flags,
    )


nothing = np.empty((0, 2))


@st.composite
def _outline(draw, outline: Points) -> Points:
    how = draw(st.sampled_from(["sound", "sound", "mixed", "empty", "flat", "holes"]))
    if how == "mixed":
        few = outline[:: len(outline) // 8 + 1]
        return few[draw(st.permutations(range(len(few))))]
    if how == "empty":
        return nothing
    if how == "flat":
        return outline[:2]
    if how == "holes":
        spoilt = outline.copy()
        spoilt[:: draw(st.integers(2, 5))] = np.nan
        return spoilt
    return outline


@st.composite
def _spoilt(draw, tuber: Tuber) -> Tuber:
    axes = [tuber.axis_px, tuber.axis_px[::-1], tuber.axis_px[:1], nothing]
    return replace(
        tuber,
        outline_px=draw(_outline(tuber.outline_px)),
        axis_px=draw(st.sampled_from(axes)),
        neck_rc_px=draw(st.sampled_from([tuber.neck_rc_px, np.full(2, np.nan)])),
        neck_width_mm=draw(st.sampled_from([tuber.neck_width_mm, np.nan, 0.0])),
        volume_ml=draw(st.sampled_from([tuber.volume_ml, np.nan])),
        attached_to=draw(
            st.sampled_from(["crown", "S1", "S9", "T1", "T2", "T99", tuber.id, ""])
        ),
    )


@st.composite
def _spoilt_flag(draw, flag: Flag) -> Flag:
    outlines = [None, None, nothing, np.array([[0.0, 0.0], [50.0, 0.0], [0.0, 50.0]])]
    return replace(
        flag,
        belongs_to=draw(st.sampled_from([flag.belongs_to, None, "T99", "S1"])),
        row_px=draw(st.sampled_from([flag.row_px, np.nan, -50.0])),
        size_mm=draw(st.sampled_from([flag.size_mm, np.nan, 0.0, 400.0])),
        likelihood=draw(st.sampled_from([flag.likelihood, np.nan, 1.0, -1.0])),
        outline_px=draw(st.sampled_from(outlines)),
    )
