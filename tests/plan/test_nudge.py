"""Cuts moved by hand: never over an eye or into a tuber that stays."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from records import painted_record
from shapely import LineString, Point, Polygon

from eyefind.data import Flag, Plan
from eyefind.plan import make_plan
from eyefind.plan.nudge import (
    keep_moved,
    moved_cut,
    objection_to,
    stepped,
    with_moved,
)
from eyefind.record.coding import from_fields, to_fields
from eyefind.rules import load_rules


@pytest.fixture(scope="module")
def rules():
    return load_rules()


@pytest.fixture(scope="module")
def planned(rules):
    """The record of the painted clump with its plan, nothing being answered."""
    record = painted_record()
    parts = record.anatomy, record.flags, {}, record.scale
    return replace(record, plan=make_plan(*parts, "singles", rules))


px = st.floats(0, 1199)
ends = st.sampled_from([0, -1])
words = st.dictionaries(
    st.sampled_from(["E1", "E2", "E3", "E4"]),
    st.sampled_from(["confirmed", "rejected", "not_sure"]),
)


def least_mm(path, record, words, rules):
    """How much nearer an eye the path is than it may be, measured point by point."""
    slack = [
        path.distance(Point(flag.row_px, flag.col_px)) / record.scale.px_per_mm
        - flag.size_mm / 2
        - rules.value("eye_clearance_mm")
        for flag in record.flags
        if flag.kind == "eye" and words.get(flag.id) != "rejected"
    ]
    return min(slack, default=np.inf)


@settings(deadline=None, max_examples=150)
@given(st.integers(0, 99), ends, px, px, words)
def test_what_is_accepted_keeps_clear_of_eyes_and_tubers(
    planned, rules, which, end, row, col, words
):
    old = planned.plan.cuts[which % len(planned.plan.cuts)]
    cut = moved_cut(old, end, (row, col))
    path = LineString(cut.path_px)
    assume(path.length > 0)
    broken = objection_to(cut, planned, words, rules)
    clearance = least_mm(path, planned, words, rules)
    if broken is None:
        assert clearance >= -1e-9
        before = LineString(old.path_px)
        gone = {discard.belongs_to for discard in planned.plan.discards}
        for tuber in planned.anatomy.tubers:
            shape = Polygon(tuber.outline_px).buffer(0)
            if path.intersects(shape) and tuber.id not in gone:
                assert before.intersects(shape), tuber.id
    elif "eye" in broken:
        assert clearance <= 1e-9


def test_a_cut_over_an_eye_is_refused_until_the_eye_is_rejected(planned, rules):
    [eye] = [flag for flag in planned.flags if flag.id == "E2"]
    cut = planned.plan.cuts[0]
    place = (eye.row_px, eye.col_px)
    over = moved_cut(cut, -1, place)
    broken = objection_to(over, planned, {}, rules)
    assert broken is not None
    assert "eye" in broken
    assert "E2" not in (objection_to(over, planned, {"E2": "rejected"}, rules) or "")


def test_two_ends_in_one_place_are_no_cut(planned, rules):
    cut = planned.plan.cuts[0]
    flat = moved_cut(cut, 0, tuple(cut.path_px[-1]))
    flat.path_px[:] = cut.path_px[-1]
    assert objection_to(flat, planned, {}, rules) == "its two ends are one place"


@given(st.integers(0, 99), ends, px, px)
def test_only_the_end_of_that_cut_moves(planned, which, end, row, col):
    plan = planned.plan
    old = plan.cuts[which % len(plan.cuts)]
    new = moved_cut(old, end, (row, col))
    moved = np.abs(old.path_px - new.path_px) > 0.051
    assert not np.delete(moved, end, axis=0).any()
    assert new.path_px[end] == pytest.approx((row, col), abs=0.051)
    assert new.moved


def test_a_step_is_so_many_mm():
    record = painted_record()
    place = stepped(np.array([100.0, 200.0]), -1.0, 2.5, record.scale.px_per_mm)
    assert place == pytest.approx((96.0, 210.0))


@pytest.fixture
def moved(planned, rules):
    """The plan with one end of a cut moved by a millimetre."""
    for cut in planned.plan.cuts:
        for end in (0, -1):
            for way in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                place = stepped(cut.path_px[end], *way, planned.scale.px_per_mm)
                new = moved_cut(cut, end, place)
                plan, refused = with_moved(planned.plan, [new], planned, {}, rules)
                if not refused:
                    return plan
    raise AssertionError("no cut can be moved")


def paths(plan):
    return [np.round(cut.path_px, 1).tolist() for cut in plan.cuts]


def test_a_moved_cut_stays_when_the_plan_is_made_anew(planned, moved, rules):
    again = keep_moved(planned.plan, moved, planned, {}, rules)
    assert paths(again) == paths(moved) != paths(planned.plan)
    assert [cut.moved for cut in again.cuts].count(True) == 1
    kept = from_fields(to_fields(moved), Plan)
    assert paths(keep_moved(planned.plan, kept, planned, {}, rules)) == paths(moved)


def test_a_moved_cut_goes_with_another_plan(planned, moved, rules):
    other = [replace(moved, style="whole"), replace(moved, pieces=moved.pieces[1:])]
    other.append(replace(moved, cuts=moved.cuts[1:]))
    for last in (None, *other):
        again = keep_moved(planned.plan, last, planned, {}, rules)
        assert paths(again) == paths(planned.plan)


def test_a_moved_cut_goes_where_an_eye_is_in_its_way_now(planned, moved, rules):
    (cut,) = (cut for cut in moved.cuts if cut.moved)
    row, col = cut.path_px.mean(axis=0)
    eye = Flag("G9", "eye", row, col, 3.0, 0.9, ["seen"], "S1", "added")
    record = replace(planned, flags=[*planned.flags, eye])
    again = keep_moved(planned.plan, moved, record, {"G9": "confirmed"}, rules)
    assert paths(again) == paths(planned.plan)
