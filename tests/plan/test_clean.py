"""Cleaning: what comes off, in which order, what stays, and what is said about it."""

from dataclasses import replace

import numpy as np
import pytest
from painted import painted_clump
from plan.clumps import (
    CENTRE,
    PPM,
    SCALE,
    gather,
    make_crown,
    make_eye,
    make_flag,
    make_stem,
    make_tuber,
    on_rim,
    round_clump,
)
from plan.oracle import check
from shapely import LineString, Point

from eyefind.data import Flag
from eyefind.plan import make_plan
from eyefind.plan.shapes import joined, polygon
from eyefind.rules import load_rules

RULES = load_rules()


def cleaned(clump, said, style="whole", rules=RULES, scale=SCALE):
    plan = make_plan(clump.anatomy, clump.flags, said, scale, style, rules)
    check(clump.anatomy, clump.flags, said, scale, rules, plan)
    return plan


def with_flags(clump, *flags):
    return replace(clump, flags=[*clump.flags, *flags])


def kept(plan):
    return sorted(name for piece in plan.pieces for name in piece.tubers)


def says(plan, *parts):
    return any(all(part in text for part in parts) for text in plan.warnings)


PAINTED = painted_clump(5, side_tuber=False)  # T5 is the spent parent, flagged F1


@pytest.mark.parametrize(
    ("word", "likelihood", "stays"),
    [
        ("confirmed", 0.1, False),
        ("rejected", 0.95, True),
        ("not_sure", 0.95, True),
        (None, 0.9, False),
        (None, 0.4, True),
    ],
)
def test_a_parent_leaves_by_the_growers_word_or_else_by_its_likelihood(
    word, likelihood, stays
):
    flags = [
        replace(flag, likelihood=likelihood) if flag.id == "F1" else flag
        for flag in PAINTED.flags
    ]
    said = {"F1": word} if word else {}
    plan = cleaned(replace(PAINTED, flags=flags), said)
    assert ("T5" in kept(plan)) is stays
    assert says(plan, "Look at these first", "F1") is (stays and word != "rejected")
    if stays and word != "rejected":
        assert "T5 may be the spent parent (F1)" in plan.pieces[0].note


def test_a_parent_leaves_at_its_neck_side():
    plan = cleaned(PAINTED, {"F1": "confirmed"})
    cut = next(c for c in plan.cuts if c.purpose == "take out the spent parent")
    parent = PAINTED.anatomy.tubers[-1]
    at = LineString(parent.axis_px).project(LineString(cut.path_px).centroid)
    neck = LineString(parent.axis_px).project(Point(parent.neck_rc_px))
    assert at <= neck + 1.0
    left = polygon(next(d.outline_px for d in plan.discards if d.belongs_to == "T5"))
    assert left.area > 0.9 * polygon(parent.outline_px).area


def test_a_parent_behind_its_neighbours_is_left_with_a_warning():
    clump = round_clump([60, 180, 300])
    parent = make_tuber("T4", on_rim(180, 24, 24, 0.97), 182.0, body_mm=30.0)
    tubers = [*clump.anatomy.tubers, parent]
    hidden = gather(
        clump.anatomy.crown_outline_px,
        clump.anatomy.stems,
        tubers,
        [*clump.flags, make_flag("F1", "spent_parent", parent)],
    )
    plan = cleaned(hidden, {"F1": "confirmed"})
    assert "T4" in kept(plan)
    assert says(plan, "T4 (F1, the spent parent) stays", "T2")


def test_the_last_tuber_is_kept_even_if_it_is_the_parent():
    clump = round_clump([180])
    clump = with_flags(clump, make_flag("F1", "spent_parent", clump.anatomy.tubers[0]))
    plan = cleaned(clump, {"F1": "confirmed"})
    assert kept(plan) == ["T1"]
    assert says(plan, "no other tuber would stay", "white and firm")


def test_a_confirmed_eye_never_leaves_with_a_discard():
    parent = PAINTED.anatomy.tubers[-1]
    eye = make_eye("E9", parent.axis_px[20], "T5")
    clump = with_flags(PAINTED, eye)
    plan = cleaned(clump, {"F1": "confirmed", "E9": "confirmed"})
    assert "T5" in kept(plan)
    assert says(plan, "eye E9 would leave with it")
    doubtful = with_flags(PAINTED, replace(eye, likelihood=0.2))
    plan = cleaned(doubtful, {"F1": "confirmed"})
    assert "T5" not in kept(plan)
    assert says(plan, "E9", "look at it before that cut")


def test_soft_flesh_is_cut_back_into_sound_flesh():
    clump = round_clump([60, 180, 300])
    tuber = clump.anatomy.tubers[1]
    clump = with_flags(clump, make_flag("F1", "soft", tuber, at=0.8))
    plan = cleaned(clump, {"F1": "confirmed"})
    assert "T2" in kept(plan)
    cut = next(c for c in plan.cuts if c.purpose == "cut back soft flesh")
    assert cut.tool == "knife"
    flag = clump.flags[-1]
    margin = RULES.value("soft_margin_mm")
    away = LineString(cut.path_px).distance(Point(flag.row_px, flag.col_px)) / PPM
    assert away >= flag.size_mm / 2 + margin - 0.5
    whole = sum(t.volume_ml for t in clump.anatomy.tubers)
    assert whole - tuber.volume_ml < plan.pieces[0].volume_ml < whole


def test_a_tuber_that_is_soft_near_its_neck_leaves_whole():
    clump = round_clump([60, 180, 300])
    tuber = clump.anatomy.tubers[1]
    clump = with_flags(clump, make_flag("F1", "soft", tuber, at=0.3))
    plan = cleaned(clump, {"F1": "confirmed"})
    assert kept(plan) == ["T1", "T3"]
    assert "Too little sound flesh" in plan.cuts[-1].why


def test_soft_places_on_crown_and_stem():
    clump = round_clump([60, 180, 300])
    row, col = CENTRE
    crown = Flag("F1", "soft", row, col + 20, 6.0, 0.9, [], None)
    plan = cleaned(with_flags(clump, crown), {"F1": "confirmed"})
    assert says(plan, "F1 lies on the crown", "by hand")
    stem = clump.anatomy.stems[0].axis_px
    row, col = stem[0] + 0.3 * (stem[1] - stem[0])
    soft = Flag("F1", "soft", row, col, 6.0, 0.9, [], "S1")
    plan = cleaned(with_flags(clump, soft), {"F1": "confirmed"})
    assert "because of the soft place F1" in plan.cuts[0].why
    # The patch begins 3 mm before its middle, and 5 mm more are sound.
    inside = LineString(stem).intersection(polygon(clump.anatomy.crown_outline_px))
    expected = 30.0 - inside.length / PPM - 3.0 - RULES.value("soft_margin_mm")
    assert stub_mm(clump, plan) == pytest.approx(expected, abs=1.0)


def test_what_hangs_on_a_discard_leaves_with_it_and_is_named():
    clump = round_clump([60, 180, 300])
    host = clump.anatomy.tubers[1]
    child = make_tuber("T4", host.axis_px[26], 90.0, "T2", 40, 4, 12)
    grown = gather(
        clump.anatomy.crown_outline_px,
        clump.anatomy.stems,
        [*clump.anatomy.tubers, child],
        [*clump.flags, make_flag("F1", "broken_neck", host, at=0.1)],
    )
    plan = cleaned(grown, {"F1": "confirmed"})
    assert kept(plan) == ["T1", "T3"]
    assert {"T2", "T4"} <= {discard.belongs_to for discard in plan.discards}
    assert says(plan, "T4 seems to hang on T2")


def test_a_rats_tail_is_trimmed_and_its_tuber_kept():
    clump = round_clump([60, 180, 300])
    tuber = clump.anatomy.tubers[1]
    tail = replace(make_flag("F1", "rat_tail", tuber, at=1.0), size_mm=6.0)
    plan = cleaned(with_flags(clump, tail), {"F1": "confirmed"})
    assert kept(plan) == ["T1", "T2", "T3"]
    assert "thin end of T2" in [discard.what for discard in plan.discards]


@pytest.mark.parametrize("at", [0.2, 0.6])
def test_a_rats_tail_flag_never_costs_a_thick_body(at):
    """A root that lies over a body is not that body."""
    clump = round_clump([60, 180, 300])
    tail = make_flag("F1", "rat_tail", clump.anatomy.tubers[1], at=at)
    plan = cleaned(with_flags(clump, tail), {"F1": "confirmed"})
    assert not any("tail" in cut.purpose for cut in plan.cuts)
    assert says(plan, "F1")


def curled_back(body_mm: float):
    """A clump whose T2 is so thick; its tail, flagged F1, curls back to its neck."""
    clump = round_clump([60, 180, 300])
    start = on_rim(180, 24, 24, 0.97)
    slim = make_tuber("T2", start, 180.0, "crown", 60, min(body_mm, 9.0), body_mm)
    tail = LineString(slim.axis_px[[-1, 14]] + [0.0, (body_mm / 2 + 1.0) * PPM])
    outline = np.array(tail.buffer(1.5 * PPM).exterior.coords)
    whole = np.array(
        joined([polygon(slim.outline_px), polygon(outline)]).exterior.coords
    )
    tubers = [clump.anatomy.tubers[0], replace(slim, outline_px=whole)]
    tubers.append(clump.anatomy.tubers[2])
    anatomy = replace(clump.anatomy, tubers=tubers)
    flag = replace(make_flag("F1", "rat_tail", slim), outline_px=outline)
    return replace(clump, anatomy=anatomy, flags=[*clump.flags, flag])


def test_a_slim_tuber_whose_tail_curls_back_stays():
    """Its tail begins beside the neck, but 13 mm of sound flesh are no rat's tail."""
    plan = cleaned(curled_back(13.0), {"F1": "confirmed", "E2": "rejected"})
    assert kept(plan) == ["T1", "T2", "T3"]
    assert not any("tail" in cut.purpose for cut in plan.cuts)
    assert says(plan, "T2 stays", "too thick", "F1")


def test_a_tuber_that_is_thin_all_over_leaves_whole():
    plan = cleaned(curled_back(5.5), {"F1": "confirmed", "E2": "rejected"})
    assert kept(plan) == ["T1", "T3"]


def test_a_root_with_an_outline_of_its_own_is_cut_at_the_crown():
    clump = round_clump([60, 180, 300])
    start = on_rim(120, 24, 24, 0.99)
    root = make_tuber("R", start, 120.0, "crown", 60, 3, 3)
    flag = replace(
        make_flag("F1", "rat_tail", root), belongs_to=None, outline_px=root.outline_px
    )
    plan = cleaned(with_flags(clump, flag), {"F1": "confirmed"})
    cut = next(c for c in plan.cuts if c.purpose == "trim a rat's tail")
    assert LineString(cut.path_px).distance(Point(start)) < 4 * PPM
    assert kept(plan) == ["T1", "T2", "T3"]


def stub_mm(clump, plan) -> float:
    """Length of the stub above the crown's outline, along the stem's axis."""
    cut = next(c for c in plan.cuts if c.purpose == "shorten the stem")
    axis = LineString(clump.anatomy.stems[0].axis_px)
    inside = axis.intersection(polygon(clump.anatomy.crown_outline_px)).length
    return (axis.project(LineString(cut.path_px).centroid) - inside) / PPM


@pytest.mark.parametrize(
    ("style", "rule"), [("whole", "stem_stub_mm"), ("singles", "single_stub_mm")]
)
def test_the_stub_is_that_of_the_rules(style, rule):
    clump = round_clump([60, 180, 300])
    said = {flag.id: "confirmed" for flag in clump.flags}
    plan = cleaned(clump, said, style)
    assert stub_mm(clump, plan) == pytest.approx(RULES.value(rule), abs=1.0)


def test_the_growers_own_stub(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text("stem_stub_mm = 70\n", encoding="utf-8")
    clump = round_clump([60, 180, 300])
    plan = cleaned(clump, {}, rules=load_rules(own))
    assert stub_mm(clump, plan) == pytest.approx(70, abs=1.0)


def test_an_eye_on_the_stem_lengthens_the_stub():
    clump = round_clump([60, 180, 300])
    axis = LineString(clump.anatomy.stems[0].axis_px)
    crown = polygon(clump.anatomy.crown_outline_px)
    at = axis.intersection(crown).length + 50 * PPM
    place = np.array(axis.interpolate(at).coords[0])
    plan = cleaned(with_flags(clump, make_eye("E9", place, "S1")), {})
    assert 54.0 < stub_mm(clump, plan) < 57.0


def test_a_stem_towards_the_camera_is_left_to_the_hand():
    tubers = round_clump([60, 180, 300]).anatomy.tubers
    stem = make_stem("S1", CENTRE, 0.0, length_mm=8.0)
    clump = gather(make_crown(24, 24), [stem], tubers, [])
    plan = cleaned(clump, {})
    assert not plan.cuts
    assert says(plan, "S1 is short or points at the camera", "50 mm", "25 to 150")


def test_much_coming_off_is_said():
    clump = round_clump([60, 180, 300])
    broken = [
        make_flag(f"F{k}", "broken_neck", tuber, at=0.1)
        for k, tuber in enumerate(clump.anatomy.tubers[:2], 1)
    ]
    clump = with_flags(clump, *broken)
    plan = cleaned(clump, {"F1": "confirmed", "F2": "confirmed"})
    assert kept(plan) == ["T3"]
    assert says(plan, "2 of 3 tubers would come off")
    plan = cleaned(clump, {"F1": "confirmed", "F2": "rejected"})
    assert not says(plan, "would come off")


def test_a_guessed_scale_is_said():
    plan = cleaned(PAINTED, {}, scale=replace(SCALE, source="guess"))
    assert says(plan, "every millimetre here is a guess")


def test_thin_necks_and_oversize_are_noted():
    tubers = [
        make_tuber("T1", on_rim(120, 24, 24, 0.97), 120.0, neck_mm=3.5),
        make_tuber("T2", on_rim(240, 24, 24, 0.97), 240.0, length_mm=240.0),
    ]
    plan = cleaned(gather(make_crown(24, 24), [], tubers, []), {})
    note = plan.pieces[0].note
    assert "thin neck on T1" in note
    assert "T2 is oversize" in note
    assert "33 %" in note
    assert "0 to 50 %" in note


@pytest.mark.parametrize("missing", ["crown", "tubers", "everything"])
def test_without_crown_or_tubers_the_clump_stays_whole(missing):
    anatomy = PAINTED.anatomy
    empty = np.empty((0, 2))
    if missing in ("crown", "everything"):
        anatomy = replace(anatomy, crown_outline_px=empty)
    if missing in ("tubers", "everything"):
        anatomy = replace(anatomy, tubers=[])
    if missing == "everything":
        anatomy = replace(anatomy, stems=[], clump_outline_px=empty)
    clump = replace(PAINTED, anatomy=anatomy)
    plan = cleaned(clump, {flag.id: "confirmed" for flag in clump.flags}, "singles")
    assert plan.style == "whole"
    assert len(plan.pieces) == 1
    assert says(plan, "was made out" if missing == "crown" else "were made out")


def test_reviewed_means_that_every_found_flag_has_an_answer():
    words = ["confirmed", "rejected", "not_sure", "confirmed", "rejected"]
    said = {flag.id: w for flag, w in zip(PAINTED.flags, words, strict=True)}
    assert cleaned(PAINTED, said).reviewed
    del said["E3"]
    assert not cleaned(PAINTED, said).reviewed
    added = [replace(f, origin="added") if f.id == "E3" else f for f in PAINTED.flags]
    assert cleaned(replace(PAINTED, flags=added), said).reviewed
