"""Dividing: the pieces, the strokes between them and the order of the splits."""

from dataclasses import replace

import numpy as np
import pytest
from painted import painted_clump
from plan.brute import most_safe
from plan.clumps import (
    CENTRE,
    PPM,
    SCALE,
    gather,
    make_crown,
    make_eye,
    make_tuber,
    on_rim,
    round_clump,
    two_stemmed,
)
from plan.oracle import check, check_apart, safe_pieces
from shapely import LineString, Point, Polygon

from eyefind.data import Flag
from eyefind.plan import make_plan
from eyefind.plan.division import is_sound
from eyefind.plan.guard import Guard
from eyefind.plan.parts import read_clump, trimmed
from eyefind.rules import load_rules

RULES = load_rules()


def all_confirmed(flags: list[Flag]) -> dict[str, str]:
    return {flag.id: "confirmed" for flag in flags}


def confirmed_plan(clump, style="singles"):
    said = all_confirmed(clump.flags)
    scale = getattr(clump, "scale", SCALE)
    plan = make_plan(clump.anatomy, clump.flags, said, scale, style, RULES)
    check(clump.anatomy, clump.flags, said, scale, RULES, plan)
    return plan


@pytest.mark.parametrize("tubers", [3, 5, 7])
@pytest.mark.parametrize("parent", [False, True])
@pytest.mark.parametrize("side_tuber", [False, True])
def test_painted_clumps_fall_into_single_tubers(tubers, parent, side_tuber):
    painted = painted_clump(tubers, parent=parent, side_tuber=side_tuber)
    plan = confirmed_plan(painted)
    assert [len(piece.tubers) for piece in plan.pieces] == [1] * (tubers - parent)
    assert all(piece.confirmed_eyes == 1 for piece in plan.pieces)
    check_apart(painted.anatomy, painted.flags, plan)


def test_eyes_too_close_together_keep_their_tubers_together():
    plan = confirmed_plan(painted_clump(11))
    assert len(plan.pieces) == 1
    assert any("stay together" in warning for warning in plan.warnings)
    # Not divided, so the stem keeps the stub of a whole clump.
    assert "50 mm" in plan.cuts[0].why


def test_whole_is_cleaned_only():
    plan = confirmed_plan(painted_clump(), "whole")
    assert len(plan.pieces) == 1
    # It could be divided: that no cut gives a second piece would be false.
    assert "no cut" not in plan.reason
    assert [cut.purpose for cut in plan.cuts] == [
        "shorten the stem",
        "take out the spent parent",
        "take off a tuber-on-tuber",
    ]


def test_one_piece_a_stem():
    clump = two_stemmed()
    plan = confirmed_plan(clump, "stems")
    assert [piece.stems for piece in plan.pieces] == [["S2"], ["S1"]]
    assert sorted(len(piece.tubers) for piece in plan.pieces) == [3, 3]
    assert plan.cuts[-1].purpose == "part the stems"
    check_apart(clump.anatomy, clump.flags, plan)


def test_two_stems_into_single_tubers():
    clump = two_stemmed()
    plan = confirmed_plan(clump)
    assert len(plan.pieces) == 6
    purposes = [cut.purpose for cut in plan.cuts]
    first = next(k for k, name in enumerate(purposes) if "stem" not in name)
    assert set(purposes[first:]) <= {"halve the crown", "split off a piece"}
    check_apart(clump.anatomy, clump.flags, plan)


def test_neighbours_that_share_one_eye_stay_together():
    clump = round_clump([60, 180, 300])
    said = all_confirmed(clump.flags) | {"E2": "rejected"}
    plan = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", RULES)
    assert sorted(len(piece.tubers) for piece in plan.pieces) == [1, 2]
    pair = max(plan.pieces, key=lambda piece: len(piece.tubers))
    assert "T2" in pair.tubers
    assert "T2 shows no eye to count on and stays with a neighbour" in pair.note


def test_an_eye_just_off_the_rim_goes_with_the_crown_beside_it():
    """It lies far from its own tuber T2: a stroke between the two parts them."""
    clump = round_clump([60, 180, 300])
    flags = [
        make_eye("E1", on_rim(95, 24, 24, 0.75), "T1"),
        make_eye("E2", on_rim(130, 24, 24, 1.01), "T2"),
        clump.flags[2],
    ]
    plan = confirmed_plan(replace(clump, flags=flags))
    assert len(plan.pieces) > 1
    outlines = [Polygon(piece.outline_px) for piece in plan.pieces]
    for flag in flags:
        place = Point(flag.row_px, flag.col_px)
        nearest = min(range(len(outlines)), key=lambda k: outlines[k].distance(place))
        assert flag.id in plan.pieces[nearest].eyes


def test_doubtful_eyes_are_put_together_until_a_piece_is_safe():
    clump = round_clump([60, 140, 220, 300])  # every eye 0.8, two make 0.96
    plan = make_plan(clump.anatomy, clump.flags, {}, SCALE, "singles", RULES)
    assert [len(piece.tubers) for piece in plan.pieces] == [2, 2]
    assert safe_pieces(plan, RULES) == 2
    assert all("no eye confirmed" in piece.note for piece in plan.pieces)
    assert any("only a preview" in warning for warning in plan.warnings)


def test_nothing_is_divided_when_every_answer_left_no_eye():
    clump = round_clump([60, 180, 300])
    said = {flag.id: "not_sure" for flag in clump.flags}
    plan = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", RULES)
    assert plan.reviewed
    assert len(plan.pieces) == 1
    assert any("do not divide" in warning for warning in plan.warnings)
    assert "no eye confirmed" in plan.pieces[0].note


def test_small_tubers_do_not_make_pieces_of_their_own():
    tubers, flags = [], []
    for number, (angle, size) in enumerate([(60, 1.0), (180, 0.2), (300, 1.0)], 1):
        start = on_rim(angle, 24, 24, 0.97)
        tubers.append(
            make_tuber(f"T{number}", start, angle, "crown", 90 * size, 4, 28 * size)
        )
        flags.append(make_eye(f"E{number}", on_rim(angle, 24, 24, 0.75), f"T{number}"))
    clump = gather(make_crown(24, 24), [], tubers, flags)
    plan = confirmed_plan(clump)
    assert len(plan.pieces) == 2
    assert any("T2 is small" in piece.note for piece in plan.pieces)


def test_pieces_are_lettered_clockwise_from_the_top():
    plan = confirmed_plan(painted_clump(7))
    angles = []
    for piece in plan.pieces:
        middle = Polygon(piece.outline_px).centroid
        across, up = middle.y - CENTRE[1], CENTRE[0] - middle.x
        angles.append(np.arctan2(across, up) % (2 * np.pi))
    assert angles == sorted(angles)


def test_halves_come_before_smaller_pieces():
    plan = confirmed_plan(round_clump([20, 65, 110, 155, 205, 250, 295, 340], 34, 34))
    purposes = [cut.purpose for cut in plan.cuts if "stem" not in cut.purpose]
    assert purposes[0] == "halve the crown"
    assert set(purposes[1:]) == {"split off a piece"}
    crown = Polygon(make_crown(34, 34))
    for cut in plan.cuts[-len(purposes) :]:
        # The blade enters from outside the crown.
        assert not crown.contains(Point(cut.path_px[0]))
        assert crown.intersects(LineString(cut.path_px))


def test_more_scale_changes_no_piece():
    """Twice the pixels, the same clump: the same pieces."""
    small, large = painted_clump(5), painted_clump(5, px_per_mm=8.0, shape=(2400, 2400))
    first, second = confirmed_plan(small), confirmed_plan(large)
    assert [p.tubers for p in first.pieces] == [p.tubers for p in second.pieces]
    assert [c.purpose for c in first.cuts] == [c.purpose for c in second.cuts]
    assert [p.volume_ml for p in first.pieces] == pytest.approx(
        [p.volume_ml for p in second.pieces], rel=0.02
    )


def random_clump(seed: int):
    """Two to four tubers around an oval crown, up to two eyes a collar."""
    random = np.random.default_rng(seed)
    count = int(random.integers(2, 5))
    tall, wide = random.uniform(18, 28, 2)
    turn = random.uniform(0, 360)
    tubers, flags = [], []
    for number in range(1, count + 1):
        angle = turn + (number + random.uniform(-0.3, 0.3)) * 360 / count
        start = on_rim(angle, tall, wide, 0.97)
        tubers.append(make_tuber(f"T{number}", start, angle + random.uniform(-15, 15)))
        for _ in range(random.integers(0, 3)):
            aside = angle + random.uniform(-15, 15)
            place = on_rim(aside, tall, wide, random.uniform(0.55, 0.9))
            name = f"E{len(flags) + 1}"
            flags.append(make_eye(name, place, f"T{number}", random.uniform(0.3, 1)))
    clump = gather(make_crown(tall, wide), [], tubers, flags)
    return clump, {f.id: "confirmed" for f in flags if random.random() < 0.6}


def most_safe_pieces(clump, said) -> int:
    """Most safe pieces over a grid of hubs, a fan of rays and every subset of them."""
    margin = RULES.value("neck_margin_mm") * PPM
    clearance = RULES.value("eye_clearance_mm") * PPM
    return most_safe(clump, said, margin, clearance, RULES.value("safe_eye_chance"))


@pytest.mark.parametrize("seed", range(12))
def test_no_fan_of_strokes_makes_more_safe_pieces(seed):
    clump, said = random_clump(seed)
    plan = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", RULES)
    assert safe_pieces(plan, RULES) >= most_safe_pieces(clump, said)


@pytest.mark.parametrize(("behind_mm", "free"), [(2.0, False), (6.0, True)])
def test_no_cut_passes_close_behind_where_a_tuber_is_seen_to_begin(behind_mm, free):
    """Its root goes on under the rim: half its neck of 7 mm and the margin stay."""
    clump = round_clump([90.0])
    bodies = read_clump(clump.anatomy, SCALE).bodies
    guard = Guard(bodies.values(), [], RULES.value("neck_margin_mm") * PPM)
    start = bodies["T1"].axis.coords[0]
    col = start[1] - behind_mm * PPM
    across = LineString([(start[0] - 40.0, col), (start[0] + 40.0, col)])
    assert guard.allows([across])[0] == free
    assert (guard.objection(across) is None) == free


@pytest.mark.parametrize(("share", "sound"), [(0.3, False), (0.9, True)])
def test_a_tuber_of_which_less_than_half_is_left_is_no_sound_body(share, sound):
    body = read_clump(round_clump([90.0]).anatomy, SCALE).bodies["T1"]
    assert is_sound(body, RULES)
    left = trimmed(body, body.shape, share * body.axis.length)
    assert is_sound(left, RULES) == sound
