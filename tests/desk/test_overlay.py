"""Marks drawn over the photo: where they belong, and never over the thing itself."""

import numpy as np
import pytest
from records import painted_record

from eyefind.desk.overlay import DASHES, draw_marks, draw_plan, overlay_frame


@pytest.fixture(scope="module")
def frame(ready):
    return overlay_frame(ready, painted_record())


def around(picture, frame, flag, reach_px):
    """The opacity around a flag's middle."""
    x, y = np.round(frame.path(np.array([[flag.row_px, flag.col_px]]))[0]).astype(int)
    return picture[y - reach_px : y + reach_px + 1, x - reach_px : x + reach_px + 1, 3]


def test_the_frame_holds_the_clump_and_every_flag(frame):
    record = painted_record()
    places = [[flag.row_px, flag.col_px] for flag in record.flags]
    for points in (np.array(places), record.anatomy.clump_outline_px):
        path = frame.path(points)
        assert (path >= 0).all()
        assert (path[:, 0] <= frame.width_px * frame.zoom).all()
        assert (path[:, 1] <= frame.height_px * frame.zoom).all()


@pytest.mark.parametrize("state", DASHES)
def test_every_flag_has_a_mark_around_it_that_leaves_it_free(frame, state):
    record = painted_record()
    words = {} if state == "open" else {flag.id: state for flag in record.flags}
    picture = draw_marks(frame, record, words, None)
    assert picture.shape[2] == 4
    for flag in record.flags:
        assert around(picture, frame, flag, 60).any(), flag.id
        if flag.kind == "eye":
            assert not around(picture, frame, flag, 3).any(), flag.id


def test_each_state_is_drawn_in_its_own_way(frame):
    record = painted_record()
    pictures = [
        draw_marks(frame, record, words, None)
        for words in (
            {},
            *({"E1": says} for says in ("confirmed", "rejected", "not_sure")),
        )
    ]
    for number, one in enumerate(pictures):
        for other in pictures[:number]:
            assert (one != other).any()


def test_the_flag_that_is_shown_is_pointed_at(frame):
    record = painted_record()
    plain = draw_marks(frame, record, {}, None)
    shown = draw_marks(frame, record, {}, "E1")
    [flag] = [flag for flag in record.flags if flag.id == "E1"]
    changed = (plain != shown).any(axis=2)
    x, y = np.round(frame.path(np.array([[flag.row_px, flag.col_px]]))[0]).astype(int)
    assert changed[y - 120 : y + 120, x - 120 : x + 120].any()


def test_without_a_plan_only_names_are_drawn(frame, planned):
    names = draw_plan(frame, painted_record())
    plan = draw_plan(frame, planned)
    assert 0 < (names[..., 3] > 0).sum() < (plan[..., 3] > 0).sum()
