"""What leaves is matched to its cut, its flags and its tubers."""

from dataclasses import replace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.shapes import region_of


def test_painted_parts_leave_by_the_cuts_that_were_planned_for_them(record, plan):
    leaving = what_leaves(record)
    by_what = {plan.discards[n].belongs_to: cut for n, cut in leaving.cuts.items()}
    assert by_what == {"S1": 1, "T5": 2, "T6": 3}
    assert leaving.tubers == {"T5", "T6"}
    gone = {flag: plan.discards[n].belongs_to for flag, n in leaving.flags.items()}
    assert gone == {"F1": "T5", "F2": "T6"}


def test_a_cut_elsewhere_takes_nothing_off(record, plan):
    far = [replace(cut, path_px=cut.path_px + 5000.0) for cut in plan.cuts]
    away = replace(record, plan=replace(plan, cuts=far))
    assert what_leaves(away).cuts == {}


def test_without_plan_cuts_or_discards_nothing_is_matched(record, plan):
    assert what_leaves(replace(record, plan=None)).flags == {}
    assert what_leaves(replace(record, plan=replace(plan, discards=[]))).tubers == set()
    assert what_leaves(replace(record, plan=replace(plan, cuts=[]))).cuts == {}


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), max_size=12))
def test_any_outline_becomes_a_valid_shape(points):
    assert region_of(np.array(points).reshape(-1, 2)).is_valid


def test_points_that_are_no_numbers_are_left_out():
    square = np.array([[0, 0], [0, 2], [np.nan, 1], [2, 2], [2, 0], [np.inf, 0]])
    assert region_of(square).area == 4.0
