"""The review of one clump: what is shown is what is on disk, whatever is pressed."""

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import assert_alike, the_painted_clump

from eyefind.desk.session import GROW, in_order
from eyefind.errors import UsageError
from eyefind.record import read_record
from eyefind.review import Review, flags_in_force, standing

px = st.floats(0, 1199)
chances = st.sampled_from([0.5, 0.8, 0.85, 1.0])
tubers = st.sampled_from([tuber.id for tuber in the_painted_clump().anatomy.tubers])
deeds = st.one_of(
    st.tuples(
        st.just("answer"), st.sampled_from(["confirmed", "rejected", "not_sure"])
    ),
    st.tuples(st.just("step"), st.integers(-3, 3)),
    st.tuples(st.just("accept_rest"), chances),
    st.tuples(st.just("add_eye"), px, px),
    st.tuples(st.just("move"), px, px),
    st.tuples(st.just("resize"), st.booleans()),
    st.tuples(st.just("tie"), tubers),
    st.tuples(st.just("note"), st.sampled_from(["", "cracked", "grün?"])),
    st.tuples(st.just("mark"), tubers, st.sampled_from(["spent_parent", "soft"])),
    st.tuples(st.just("mark_blind"), tubers),
    st.tuples(st.just("undo")),
    st.tuples(st.just("redo")),
)
runs = st.lists(deeds, min_size=1, max_size=12)


def do(session, run):
    for name, *values in run:
        getattr(session, name)(*values)


def assert_as_on_disk(session):
    record = read_record(session.review.path)
    assert session.record.decisions == record.decisions
    assert session.words == standing(record.flags, record.decisions)
    flags = in_order(flags_in_force(record.flags, record.decisions), session.deciding)
    assert_alike(session.flags, flags)


@settings(deadline=None, max_examples=25)
@given(runs, st.sampled_from(["confirmed", "rejected", "not_sure"]))
def test_the_upcoming_flag_is_the_one_that_an_answer_shows(start, run, says):
    with TemporaryDirectory() as folder:
        session = start(Path(folder))
        do(session, run)
        upcoming, shown = session.upcoming, session.current
        session.answer(says)
        if upcoming is None:
            assert not session.open_flags
            assert session.current.id == shown.id
        else:
            assert session.current.id == upcoming.id


@settings(deadline=None, max_examples=40)
@given(runs)
def test_session_record_and_fold_agree_after_every_deed(start, run):
    with TemporaryDirectory() as folder:
        session = start(Path(folder))
        count = 0
        for deed in run:
            do(session, [deed])
            assert_as_on_disk(session)
            assert session.current is session.flags[session.place]
            # Words are added, never rewritten.
            assert len(session.record.decisions) >= count
            count = len(session.record.decisions)


@settings(deadline=None, max_examples=25)
@given(runs)
def test_all_is_taken_back_and_brought_back(start, run):
    with TemporaryDirectory() as folder:
        session = start(Path(folder))
        first = session.flags
        do(session, run)
        while session.redo():
            pass
        flags, words = session.flags, session.words
        while session.undo():
            pass
        assert session.words == {}
        assert_alike(session.flags, first)
        while session.redo():
            pass
        assert session.words == words
        assert_alike(session.flags, flags)
        assert_as_on_disk(session)


@settings(deadline=None, max_examples=25)
@given(runs)
def test_taken_up_again_it_is_as_it_was_left(start, run):
    with TemporaryDirectory() as folder:
        session = start(Path(folder))
        do(session, run)
        again = type(session)(session.ready, session.job)
        assert again.words == session.words
        assert_alike(again.flags, session.flags)
        open_ids = [flag.id for flag in again.open_flags]
        assert again.current.id == (open_ids or [again.flags[0].id])[0]


def test_flags_that_change_the_plan_come_first_then_the_likeliest(session):
    flags = [
        replace(flag, likelihood=chance)
        for flag, chance in zip(session.flags, (0.9, 0.2, 0.5, 0.7), strict=False)
    ]
    flags[3] = replace(flags[3], origin="added")
    a, b, c, d = flags
    ordered = in_order([d, a, b, c], {b.id})
    assert [flag.id for flag in ordered] == [b.id, a.id, c.id, d.id]


def test_every_flag_is_asked_once_and_the_last_one_stays(session):
    asked = []
    while session.open_flags:
        asked.append(session.current.id)
        session.answer("confirmed")
    assert asked == [flag.id for flag in session.flags]
    assert session.left_to_plan == 0


def test_what_was_passed_over_is_asked_at_the_end(session):
    passed = session.current.id
    session.step(1)
    for _ in session.flags[1:]:
        session.answer("rejected")
    assert session.current.id == passed


def test_a_word_said_elsewhere_is_kept_and_seen(session):
    other = Review(session.review.path)
    other.say("E3", "rejected", "Ida")
    shown = session.current.id
    session.answer("confirmed")
    assert session.words == {"E3": "rejected", shown: "confirmed"}


def test_a_plan_of_older_words_is_not_kept(session, plan):
    words = session.review.record.decisions
    session.answer("confirmed")
    assert not session.keep_plan(plan, words)
    assert read_record(session.review.path).plan is None
    assert session.keep_plan(plan, session.review.record.decisions)
    assert len(read_record(session.review.path).plan.pieces) == len(plan.pieces)


def test_larger_and_smaller_again_is_as_before(session):
    before = session.current.size_mm
    session.resize(True)
    assert session.current.size_mm == pytest.approx(before * GROW)
    session.resize(False)
    assert session.current.size_mm == pytest.approx(before)


def test_without_flags_an_answer_says_what_to_do(session):
    session.flags = []
    with pytest.raises(UsageError, match="has no flag"):
        session.answer("confirmed")


def test_mending_holds_until_it_is_taken_back(session):
    first = {tuber.id for tuber in session.record.anatomy.tubers}
    one, two = (
        tuple(tuber.axis_px[len(tuber.axis_px) // 2])
        for tuber in session.record.anatomy.tubers[:2]
    )
    session.mend("merge", [one, two])
    assert len(session.record.anatomy.tubers) == len(first) - 1
    again = type(session)(session.ready, session.job)
    assert_alike(again.record.anatomy, session.record.anatomy)
    session.undo()
    assert {tuber.id for tuber in session.record.anatomy.tubers} == first


def test_a_mend_in_the_empty_writes_nothing(session):
    before = session.review.path.read_bytes()
    with pytest.raises(UsageError, match="Nothing to merge"):
        session.mend("merge", [(1.0, 1.0), (2.0, 2.0)])
    assert session.review.path.read_bytes() == before
