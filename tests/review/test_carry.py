"""Decisions outlive a new look at the photo."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import assert_alike, decision, painted_record, the_painted_clump

from eyefind.data import Anatomy, Flag
from eyefind.review import carry_over, standing
from eyefind.review.carry import nearest_tuber

PAINTED = the_painted_clump()
ANATOMY = PAINTED.anatomy
FLAGS = painted_record().flags
PX_PER_MM = PAINTED.scale.px_per_mm


def carried(found, decisions, old=FLAGS):
    return carry_over(old, decisions, found, ANATOMY, PX_PER_MM)


def moved(flag, mm, **changes):
    return replace(flag, row_px=flag.row_px + mm * PX_PER_MM, **changes)


def test_without_words_the_new_look_counts():
    found = [moved(FLAGS[0], 40, id="E1")]
    assert carried(found, []) == found


def test_same_place_keeps_its_id_and_takes_the_new_measures():
    # The new finder numbers them the other way round.
    eyes = FLAGS[:4]
    found = [
        moved(flag, 2.9, id=f"E{4 - n}", likelihood=0.31) for n, flag in enumerate(eyes)
    ]
    result = carried(found, [decision("E2", "confirmed")])
    assert [flag.id for flag in result] == ["E1", "E2", "E3", "E4"]
    assert all(flag.likelihood == 0.31 for flag in result)
    assert result[1].row_px == found[1].row_px


def test_a_decided_flag_that_is_gone_is_kept_an_undecided_one_leaves():
    result = carried([], [decision("E2", "confirmed"), decision("F1", "rejected")])
    assert [flag.id for flag in result] == ["E2", "F1"]
    assert result[0].row_px == FLAGS[1].row_px


def test_a_word_taken_back_still_keeps_its_flag_for_the_redo():
    words = [decision("E2", "confirmed"), decision("", "undo")]
    assert [flag.id for flag in carried([], words)] == ["E2"]


def test_farther_than_3_mm_or_of_another_kind_is_a_new_flag():
    words = [decision("E1", "rejected")]
    far = [moved(FLAGS[0], 3.1, id="E1")]
    assert [flag.id for flag in carried(far, words)] == ["E5", "E1"]
    other = [replace(FLAGS[0], id="F1", kind="soft")]
    assert [flag.id for flag in carried(other, words)] == ["F3", "E1"]


def test_a_spent_parent_may_move_with_its_outline():
    parent = FLAGS[4]
    found = [moved(parent, parent.size_mm * 0.2, id="F1")]
    result = carried(found, [decision("F1", "confirmed")])
    assert [flag.id for flag in result] == ["F1"]


def test_an_added_eye_that_is_now_found_stays_one_flag():
    added = Flag("G1", "eye", 300.0, 300.0, 3.0, 0.5, ["pointed out"], "T1", "added")
    found = [replace(moved(added, 1.0), id="E1", origin="found", likelihood=0.7)]
    result = carried(found, [decision("G1", "confirmed")], [*FLAGS, added])
    assert [(flag.id, flag.row_px) for flag in result] == [("G1", 300.0)]


def test_ids_in_words_without_a_flag_are_not_given_again():
    """After damage a word may outlive its flag; it must not fall on another one."""
    words = [decision("E1", "confirmed"), decision("E2", "rejected")]
    result = carried(FLAGS[:3], words, old=[])
    assert [flag.id for flag in result] == ["E3", "E4", "E5"]
    assert standing(result, words) == {}


@settings(max_examples=60)
@given(st.data())
def test_no_word_changes_its_place(data):
    """Whatever the new look finds, a word stays within 3 mm of where it was said."""
    eyes = FLAGS[:4]
    said = data.draw(st.lists(st.sampled_from(eyes), unique_by=lambda f: f.id))
    words = [decision(flag.id, "confirmed") for flag in said]
    shift = st.floats(-8, 8)
    found = [
        replace(moved(flag, data.draw(shift)), id=f"E{n}")
        for n, flag in enumerate(data.draw(st.permutations(eyes)), 1)
        if data.draw(st.booleans())
    ]
    result = carried(found, words)
    assert len({flag.id for flag in result}) == len(result)
    by_id = {flag.id: flag for flag in result}
    for flag in said:
        now = by_id[flag.id]
        apart_px = np.hypot(now.row_px - flag.row_px, now.col_px - flag.col_px)
        assert apart_px <= 3.0 * PX_PER_MM + 1e-6
    # Nothing that was found is lost, and a second new look changes nothing.
    assert len(result) >= len(found)
    if words:
        assert_alike(carried(result, words, old=result), result, rounding=False)


@pytest.mark.parametrize("index", range(5))
def test_nearest_tuber(index):
    tuber = ANATOMY.tubers[index]
    assert nearest_tuber(ANATOMY, "eye", *tuber.neck_rc_px) == tuber.id
    tip = tuber.axis_px[-1]
    assert nearest_tuber(ANATOMY, "rat_tail", *tip) == tuber.id


def test_an_eye_never_belongs_to_a_tuber_on_a_tuber():
    side = ANATOMY.tubers[-1]
    assert nearest_tuber(ANATOMY, "rat_tail", *side.axis_px[-1]) == side.id
    assert nearest_tuber(ANATOMY, "eye", *side.neck_rc_px) == side.attached_to
    empty = Anatomy(ANATOMY.clump_outline_px, np.empty((0, 2)), [], [])
    assert nearest_tuber(empty, "eye", 1.0, 1.0) is None
