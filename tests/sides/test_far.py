"""One plan from all sides: far eyes count, once, and cost no safe piece."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plan.clumps import SCALE, answers, make_eye, make_flag, round_clump, tidy_clumps
from plan.oracle import safe_pieces

from eyefind.data import PhotoFacts, Record
from eyefind.desk.foresight import deciding_flags
from eyefind.errors import UsageError
from eyefind.plan import make_plan
from eyefind.plan.sides import counted_once
from eyefind.plan.standing import standing_eyes
from eyefind.record import read_record, write_record
from eyefind.review import Review, sides_in_force
from eyefind.rules import load_rules
from eyefind.sides import match, plan_of_all, read_far

RULES = load_rules()
ANGLES = [40.0, 112.0, 184.0, 256.0, 320.0]
SAME = {f"T{n}": f"T{n}" for n in range(1, 6)}
QUIET = settings(
    deadline=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def record_of(name, flags, clump):
    facts = PhotoFacts(f"{name}.jpg", f"{name:0>64}", 1200, 1200)
    return Record(facts, SCALE, [], clump.anatomy, flags)


@pytest.fixture
def clump():
    return round_clump(ANGLES)


@pytest.fixture
def records(tmp_path, clump):
    """A main photo without any eye, and a side that shows one a tuber."""
    paths = []
    for name, flags in (("a", []), ("b", clump.flags)):
        paths.append(tmp_path / f"{name}.eyefind.json")
        write_record(record_of(name, flags, clump), paths[-1])
    return paths


def plan_for(path):
    record = read_record(path)
    review = Review(path)
    far = read_far(record, path.parent)
    return plan_of_all(review.in_force, review.standing, far, "singles", RULES)


def test_eyes_of_the_far_side_make_safe_pieces(records):
    main, side = records
    assert len(plan_for(main).pieces) == 1
    match(main, side, SAME, "Ida")
    Review(side).say_all({f"E{n}": "confirmed" for n in range(1, 6)}, "Ida")
    plan = plan_for(main)
    assert plan.reviewed
    assert safe_pieces(plan, RULES) == 5
    for piece in plan.pieces:
        (number,) = (int(name[1:]) for name in piece.tubers)
        assert piece.eyes == [f"E{number} (side 2)"]
        assert (piece.confirmed_eyes, piece.far_eyes) == (1, 1)
        assert f"eye seen on the other side: E{number} (side 2) on" in piece.note


def test_only_tubers_with_a_partner_bring_their_flags(records):
    main, side = records
    match(main, side, {"T1": "T2"}, "Ida")
    far = read_far(read_record(main), main.parent)
    assert [(flag.id, flag.belongs_to) for flag in far.flags] == [("E2 (side 2)", "T1")]
    tuber = read_record(main).anatomy.tubers[0]
    place = [far.flags[0].row_px, far.flags[0].col_px]
    np.testing.assert_allclose(place, tuber.neck_rc_px, atol=0.1)


def test_until_the_side_is_answered_the_plan_is_not_reviewed(records):
    main, side = records
    match(main, side, SAME, "Ida")
    assert not plan_for(main).reviewed
    Review(side).say_all({f"E{n}": "rejected" for n in range(1, 6)}, "Ida")
    plan = plan_for(main)
    assert plan.reviewed
    assert [piece.eyes for piece in plan.pieces] == [[]]


def test_a_spent_parent_of_the_far_side_comes_off(records, clump):
    main, side = records
    parent = make_flag("F1", "spent_parent", clump.anatomy.tubers[2])
    soft = make_flag("F2", "soft", clump.anatomy.tubers[0], at=0.8)
    write_record(record_of("b", [*clump.flags, parent, soft], clump), side)
    match(main, side, SAME, "Ida")
    Review(side).say_all(
        {"F1": "confirmed", "F2": "confirmed", "E3": "rejected"}, "Ida"
    )
    plan = plan_for(main)
    assert {gone.belongs_to for gone in plan.discards} == {"S1", "T1", "T3"}
    assert all("T3" not in piece.tubers for piece in plan.pieces)
    (cut,) = (cut for cut in plan.cuts if cut.purpose == "cut back soft flesh")
    past = np.hypot(*(cut.path_px.mean(axis=0) - clump.anatomy.tubers[0].neck_rc_px))
    # 80 % of 90 mm, less the neck's 8 mm, half the patch and 5 mm of sound flesh.
    assert past / SCALE.px_per_mm == pytest.approx(0.8 * 90 - 8 - 4 - 5, abs=2.5)


def test_a_match_is_a_word_that_can_be_taken_back(records):
    main, side = records
    match(main, side, SAME, "Ida")
    match(main, side, {"T1": "T2"}, "Ida")
    (side_now,) = sides_in_force(read_record(main).decisions)
    assert (side_now.file, len(side_now.places_px)) == ("b.jpg", 1)
    Review(main).undo("Ida")
    assert len(sides_in_force(read_record(main).decisions)[0].places_px) == 5
    match(main, side, {}, "Ida")
    assert sides_in_force(read_record(main).decisions) == []


def test_a_side_that_is_gone_or_another_picture_is_told(records, clump):
    main, side = records
    match(main, side, SAME, "Ida")
    write_record(record_of("c", [], clump), side.with_name("c.eyefind.json"))
    side.with_name("c.eyefind.json").replace(side)
    assert "Side 2, b.jpg, does not count" in plan_for(main).warnings[0]
    side.unlink()
    assert "Side 2, b.jpg, does not count" in plan_for(main).warnings[0]


def test_six_photos_are_planned_together_and_no_more(records, clump):
    main, _ = records
    for name in "bcdef":
        path = main.with_name(f"{name}.eyefind.json")
        write_record(record_of(name, [], clump), path)
        match(main, path, SAME, "Ida")
    write_record(record_of("g", [], clump), main.with_name("g.eyefind.json"))
    with pytest.raises(UsageError, match="5 other sides"):
        match(main, main.with_name("g.eyefind.json"), SAME, "Ida")
    with pytest.raises(UsageError, match="main photo itself"):
        match(main, main, SAME, "Ida")


def eye(name, tuber, chance, side=0):
    flag = make_eye(name, np.array([600.0, 600.0]), tuber, chance)
    return replace(flag, side=side)


def test_an_eye_on_two_photos_counts_once():
    flags = [
        eye("E1", "T1", 0.6),
        eye("E2", "T1", 0.3),
        eye("E1 (side 2)", "T1", 0.5, 2),
        eye("E2 (side 2)", "T1", 0.4, 2),
        eye("E3 (side 2)", "T1", 0.2, 2),
        eye("E1 (side 3)", "T1", 0.7, 3),
        eye("E4 (side 2)", "T2", 0.9, 2),
    ]
    said = {"E2 (side 2)": "confirmed"}
    counted = counted_once(standing_eyes(flags, said, SCALE, RULES))
    assert [(eye.id, eye.chance, eye.confirmed, eye.also) for eye in counted] == [
        ("E1", 0.7, False, ("E1 (side 2)", "E1 (side 3)")),
        ("E2", 1.0, True, ("E2 (side 2)",)),
        ("E3 (side 2)", 0.2, False, ()),
        ("E4 (side 2)", 0.9, False, ()),
    ]


@st.composite
def far_flags(draw, clump):
    """Up to two eyes a tuber on each of two further sides."""
    flags = []
    for side in (2, 3):
        for tuber in clump.anatomy.tubers:
            row, col = (float(at) for at in tuber.neck_rc_px)
            for _ in range(draw(st.integers(0, 2))):
                name = f"E{len(flags) + 1} (side {side})"
                chance = draw(st.floats(0, 1))
                flag = make_eye(name, np.array([row, col]), tuber.id, chance)
                flags.append(replace(flag, side=side))
    return flags


@QUIET
@given(st.data(), tidy_clumps(most=5), st.sampled_from(["stems", "singles"]))
def test_one_more_confirmed_eye_on_any_side_never_costs_a_safe_piece(
    data, clump, style
):
    flags = [*clump.flags, *data.draw(far_flags(clump))]
    said = data.draw(answers(flags))
    unsure = [
        flag.id
        for flag in flags
        if flag.kind == "eye" and said.get(flag.id) in (None, "not_sure")
    ]
    if not unsure:
        return
    name = data.draw(st.sampled_from(unsure))
    before, after = (
        make_plan(clump.anatomy, flags, words, SCALE, style, RULES)
        for words in (said, {**said, name: "confirmed"})
    )
    if any("comes off" in text or "would leave" in text for text in before.warnings):
        return  # an eye lies on a part that was to come off
    if any("would leave" in text for text in after.warnings):
        return
    assert safe_pieces(after, RULES) >= safe_pieces(before, RULES)


@QUIET
@given(st.data(), tidy_clumps(removals=False, most=5))
def test_a_further_side_never_costs_a_safe_piece(data, clump):
    """Far eyes are in the way of no cut."""
    far = data.draw(far_flags(clump))
    said = {flag.id: "confirmed" for flag in [*clump.flags, *far]}
    alone = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", RULES)
    both = make_plan(clump.anatomy, [*clump.flags, *far], said, SCALE, "singles", RULES)
    assert safe_pieces(both, RULES) >= safe_pieces(alone, RULES)


def test_what_was_said_on_another_side_is_not_asked_again(records, clump):
    """An eye confirmed there settles its tuber; without it the flags here decide."""
    main, side = records
    write_record(record_of("a", clump.flags, clump), main)
    match(main, side, SAME, "Ida")

    def deciding():
        record = read_record(main)
        far = read_far(record, main.parent)
        return deciding_flags(record, "singles", RULES, far)

    assert "E1" in deciding_flags(read_record(main), "singles", RULES)
    Review(side).say("E1", "confirmed", "Ida")
    assert "E1" not in deciding()
    Review(side).say("E1", "rejected", "Ida")
    assert "E1" in deciding()
