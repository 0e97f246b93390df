"""The magnifier: what it looks at is in its middle, at the size it says."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from eyefind.desk.magnify import SET_VIEWS, VIEWS, enhanced, natural, window_at

anywhere = st.floats(-300, 1500)
times = st.integers(4, 16)
sizes = st.tuples(st.integers(40, 300), st.integers(40, 300))


@given(anywhere, anywhere, times, st.floats(2, 40), sizes, st.floats(-50, 350))
def test_photo_and_screen_are_one_way_and_back(row, col, times, scale, size, at):
    window = window_at((row, col), times, scale, size)
    assert window.to_screen(row, col) == pytest.approx((size[1] / 2, size[0] / 2))
    there = window.to_photo(at, at / 2)
    assert window.to_screen(*there) == pytest.approx((at, at / 2), abs=1e-6)


@given(times, st.floats(2, 40))
def test_times_are_times_life_size(times, scale):
    """An inch is 25.4 mm, and 96 px at CSS's reference (CSS Values 4, section 6.2)."""
    window = window_at((600, 600), times, scale, (100, 100))
    left = window.to_screen(600, 600)[0]
    right = window.to_screen(600, 600 + 25.4 * scale)[0]
    assert right - left == pytest.approx(96 * times)


of_one_photo = st.sampled_from([view for view in VIEWS if view not in SET_VIEWS])


@settings(deadline=None, max_examples=25)
@given(anywhere, anywhere, times, of_one_photo, sizes)
def test_it_fills_its_window_wherever_it_looks(ready, row, col, times, view, size):
    window = window_at((row, col), times, 4.0, size)
    for shown in (natural(ready, window), enhanced(ready, window, view, 4.0)):
        assert shown.shape == (*size, 3)
        assert shown.dtype == np.uint8


@settings(deadline=None)
@given(st.integers(200, 1000), st.integers(200, 1000), times)
def test_the_pixel_looked_at_is_in_the_middle(ready, row, col, times):
    patch = ready.photo.rgb[row - 2 : row + 3, col - 2 : col + 3]
    assume(np.ptp(patch, axis=(0, 1)).max() == 0)
    shown = natural(ready, window_at((row, col), times, 4.0, (101, 101)))
    assert (shown[50, 50] == patch[2, 2]).all()


def test_beyond_the_photo_all_is_black(ready):
    window = window_at((-900.0, -900.0), 4, 4.0, (60, 60))
    assert not natural(ready, window).any()
