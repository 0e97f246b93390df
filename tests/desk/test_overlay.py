"""Marks drawn over the photo: where they belong, and never over the thing itself."""

from dataclasses import replace

import numpy as np
import pytest
from records import painted_record

from eyefind.desk.overlay import (
    DASHES,
    PX_PER_PT,
    draw_marks,
    draw_plan,
    letters_pt,
    overlay_frame,
)
from eyefind.sheet.drawing import BAND_PT, FINEST, mark_sizes
from eyefind.sheet.style import NAME_PT


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


@pytest.mark.parametrize("turn", np.arange(8) * np.pi / 4)
def test_the_pointers_leave_neighbours_free(frame, turn):
    record = painted_record()
    [flag] = [flag for flag in record.flags if flag.id == "E1"]
    reach_px = 75 / frame.zoom  # Where a pointer would lie, pixels of the photo.
    near = replace(
        flag,
        id="E9",
        row_px=flag.row_px + reach_px * np.sin(turn),
        col_px=flag.col_px + reach_px * np.cos(turn),
    )
    record = replace(record, flags=[flag, near])
    record = replace(record, anatomy=replace(record.anatomy, tubers=[], stems=[]))
    plain, shown = (draw_marks(frame, record, {}, name) for name in (None, "E1"))
    assert (plain != shown).any()
    assert not around((plain != shown) * np.uint8(255), frame, near, 12).any()


def test_without_a_plan_only_names_are_drawn(frame, planned):
    names = draw_plan(frame, painted_record(), 0.0)
    plan = draw_plan(frame, planned, 0.0)
    assert 0 < (names[..., 3] > 0).sum() < (plan[..., 3] > 0).sum()


def test_names_as_large_as_asked_are_whole_and_off_the_eyes(frame):
    record = painted_record()
    usual, large = (
        draw_plan(frame, record, least_pt)[..., 3] > 0 for least_pt in (0, 2 * NAME_PT)
    )
    assert large.sum() > 2.5 * usual.sum()
    for edge in (large[0], large[-1], large[:, 0], large[:, -1]):
        assert not edge.any()
    for flag in record.flags:
        if flag.kind == "eye":
            x, y = np.round(frame.path(np.array([[flag.row_px, flag.col_px]]))[0])
            spot = large[int(y) - 8 : int(y) + 9, int(x) - 8 : int(x) + 9]
            assert not spot.any(), flag.id


def test_letters_are_sized_as_they_are_seen(frame):
    seen = 0.5  # Pixels of the screen for one of the overlay.
    points = letters_pt(frame, frame.zoom * seen, 32.0)
    least = draw_plan(frame, painted_record(), points)[..., 3].any(axis=1)
    # The figures of a bold type are some 0.7 of its size; halo and rim come on top.
    heights = np.diff(np.flatnonzero(np.diff(np.concatenate([[0], least, [0]]))))[::2]
    assert heights.min() * seen >= 0.7 * 32.0


def test_letters_leave_most_of_a_tiny_photo_free(frame):
    px = letters_pt(frame, 1e-3, 32.0) * PX_PER_PT
    assert px <= frame.width_px * frame.zoom / 8 + 1


@pytest.mark.parametrize("apart_mm", [40.0, 8.0, 5.5])
def test_marks_of_neighbours_do_not_run_together(apart_mm):
    px_per_mm, pt_per_px = 10.0, 0.25
    first = next(flag for flag in painted_record().flags if flag.kind == "eye")
    first = replace(first, size_mm=2.0)
    other = replace(first, id="E9", col_px=first.col_px + apart_mm * px_per_mm)
    sizes = mark_sizes([first, other], px_per_mm, pt_per_px)
    outer = [inner + BAND_PT * fineness for inner, fineness in sizes]
    assert sum(outer) <= apart_mm * px_per_mm * pt_per_px + 1e-9
    for inner, fineness in sizes:
        assert inner > first.size_mm / 2 * px_per_mm * pt_per_px
        assert FINEST <= fineness <= 1.0
    assert (sizes[0][1] == 1.0) == (apart_mm == 40.0)
