"""What every plan must keep, checked from the raw outlines, apart from the planner."""

import math

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from eyefind.data import Anatomy, Flag, Plan, Scale
from eyefind.plan import words
from eyefind.plan.shapes import polygon
from eyefind.rules import Rules

ORDER = [
    "shorten the stem",
    "take out the spent parent",
    "cut back soft flesh",
    "take off a tuber-on-tuber",
    "trim a rat's tail",
    "take off a broken neck",
    "split",
]
SPLITS = {"part the stems", "halve the crown", "split off a piece"}
TRIMS = {"cut back soft flesh", "trim a rat's tail"}


def check(
    anatomy: Anatomy,
    flags: list[Flag],
    standing: dict[str, str],
    scale: Scale,
    rules: Rules,
    plan: Plan,
) -> None:
    """Assert every invariant of a plan."""
    counted = _counted_eyes(flags, standing)
    whole_ids = {tuber.id for tuber in anatomy.tubers}
    kept = [name for piece in plan.pieces for name in piece.tubers]
    assert len(kept) == len(set(kept))
    gone = whole_ids - set(kept)
    assert gone <= {discard.belongs_to for discard in plan.discards}
    assert set(kept) <= whole_ids
    _check_cuts(plan)
    _check_eyes_kept(plan, counted, scale, rules)
    _check_necks_kept(anatomy, plan, set(kept))
    _check_pieces(plan, flags, standing, rules, counted)
    _check_eyes_in_place(anatomy, plan, counted, scale)


def _counted_eyes(flags: list[Flag], standing: dict[str, str]) -> dict[str, Flag]:
    return {
        flag.id: flag
        for flag in flags
        if flag.kind == "eye"
        and standing.get(flag.id) != "rejected"
        and math.isfinite(flag.row_px)
        and math.isfinite(flag.col_px)
    }


def _check_cuts(plan: Plan) -> None:
    assert [cut.number for cut in plan.cuts] == list(range(1, len(plan.cuts) + 1))
    ranks = []
    for cut in plan.cuts:
        assert np.isfinite(cut.path_px).all()
        # At most two straight strokes.
        assert 2 <= len(cut.path_px) <= 3
        assert LineString(cut.path_px).length > 0
        assert cut.tool in ("fine-point snips", "knife", "secateurs")
        assert cut.why.endswith(".")
        purpose = "split" if cut.purpose in SPLITS else cut.purpose
        ranks.append(ORDER.index(purpose))
    # Cleaning comes first; within it a cut may wait until its way is free.
    split = ORDER.index("split")
    assert [rank == split for rank in ranks] == sorted(rank == split for rank in ranks)
    splits = sum(cut.purpose in SPLITS for cut in plan.cuts)
    assert splits == max(len(plan.pieces) - 1, 0)


def _check_eyes_kept(
    plan: Plan, counted: dict[str, Flag], scale: Scale, rules: Rules
) -> None:
    clearance_px = rules.value("eye_clearance_mm") * scale.px_per_mm
    for cut in plan.cuts:
        path = LineString(cut.path_px)
        for eye in counted.values():
            away = path.distance(Point(eye.row_px, eye.col_px))
            assert away >= clearance_px - 1e-6, (cut.number, eye.id)


def _check_necks_kept(anatomy: Anatomy, plan: Plan, kept: set[str]) -> None:
    trimmed = {d.belongs_to for d in plan.discards} & kept
    for tuber in anatomy.tubers:
        if tuber.id not in kept:
            continue
        shape = polygon(tuber.outline_px)
        for cut in plan.cuts:
            path = LineString(cut.path_px)
            own = tuber.id in trimmed and cut.purpose in TRIMS
            if own:
                neck = Point(tuber.neck_rc_px)
                assert neck.is_empty or not path.dwithin(neck, 1.0), cut.number
            else:
                assert not path.intersects(shape), (cut.number, tuber.id)


def _check_pieces(
    plan: Plan,
    flags: list[Flag],
    standing: dict[str, str],
    rules: Rules,
    counted: dict[str, Flag],
) -> None:
    assert [piece.letter for piece in plan.pieces] == [
        chr(65 + k) for k in range(len(plan.pieces))
    ]
    listed = [name for piece in plan.pieces for name in piece.eyes]
    assert len(listed) == len(set(listed))
    assert set(listed) <= set(counted)
    confirmed = {name for name in counted if standing.get(name) == "confirmed"}
    assert confirmed <= set(listed), "a confirmed eye was lost"
    for name in set(counted) - set(listed):
        place = Point(counted[name].row_px, counted[name].col_px)
        assert any(polygon(d.outline_px).buffer(1).covers(place) for d in plan.discards)
    for piece in plan.pieces:
        chances = [
            1.0 if name in confirmed else _chance(counted[name]) for name in piece.eyes
        ]
        expected = 1 - math.prod(1 - chance for chance in chances)
        assert math.isclose(piece.eye_chance, expected, abs_tol=1e-9)
        assert piece.confirmed_eyes == len(confirmed & set(piece.eyes))
        assert piece.confirmed_eyes or words.NO_EYE in piece.note
        if piece.eye_chance < rules.value("safe_eye_chance"):
            assert "doubtful" in piece.note
        assert math.isfinite(piece.volume_ml)
    shapes = [Polygon(p.outline_px) for p in plan.pieces if len(p.outline_px) > 2]
    for number, shape in enumerate(shapes):
        assert shape.is_valid
        for other in shapes[:number]:
            assert shape.intersection(other).area < 1.0
    for discard in plan.discards:
        assert discard.what
        assert discard.why


def _check_eyes_in_place(
    anatomy: Anatomy, plan: Plan, counted: dict[str, Flag], scale: Scale
) -> None:
    """Assert that an eye well within the crown is listed where it lies."""
    crown = polygon(anatomy.crown_outline_px).buffer(-2.5 * scale.px_per_mm)
    for piece in plan.pieces:
        outline = polygon(piece.outline_px)
        for name in piece.eyes:
            place = Point(counted[name].row_px, counted[name].col_px)
            if crown.covers(place):
                assert outline.distance(place) <= 1.0, (piece.letter, name)


def _chance(flag: Flag) -> float:
    value = flag.likelihood
    return min(max(value, 0.0), 1.0) if math.isfinite(value) else 0.0


def check_apart(anatomy: Anatomy, flags: list[Flag], plan: Plan) -> None:
    """Assert that the drawn cuts really part the pieces, and nothing else.

    For clumps whose tubers do not touch one another: what is left after the cuts,
    each a kerf of 0.2 px, falls into parts that are exactly the pieces.
    """
    cuts = shapely.union_all([LineString(c.path_px).buffer(0.1) for c in plan.cuts])
    kept = {name for piece in plan.pieces for name in piece.tubers}
    tubers = {t.id: polygon(t.outline_px) for t in anatomy.tubers}
    tissue = shapely.union_all(
        [
            polygon(anatomy.crown_outline_px),
            *(polygon(stem.outline_px) for stem in anatomy.stems),
            *(shape for name, shape in tubers.items() if name in kept),
        ]
    ).difference(cuts)
    parts = [part for part in shapely.get_parts(tissue) if part.area > 20.0]

    def home(place: Point) -> int:
        return int(np.argmin([part.distance(place) for part in parts]))

    bodies = {t.id: Point(t.axis_px[len(t.axis_px) // 3]) for t in anatomy.tubers}
    eyes = {f.id: Point(f.row_px, f.col_px) for f in flags}
    homes = []
    for piece in plan.pieces:
        found = {home(bodies[name]) for name in piece.tubers}
        found |= {home(eyes[name]) for name in piece.eyes}
        assert len(found) == 1, (piece.letter, found)
        homes += found
    assert len(set(homes)) == len(plan.pieces)


def safe_pieces(plan: Plan, rules: Rules) -> int:
    return sum(p.eye_chance >= rules.value("safe_eye_chance") for p in plan.pieces)
