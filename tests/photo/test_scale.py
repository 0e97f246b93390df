import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import pdist
from skimage.draw import ellipse

from eyefind.errors import PhotoError, UsageError
from eyefind.photo import guess_scale, scale_from_points, scale_from_width
from eyefind.photo.scale import longest_px
from eyefind.rules import load_rules


def blob(seed):
    rng = np.random.default_rng(seed)
    mask = np.zeros((120, 140), bool)
    for _ in range(3):
        row, col = rng.uniform(20, 100, 2)
        half, wide = rng.uniform(2, 18, 2)
        mask[ellipse(row, col, half, wide, shape=mask.shape)] = True
    return mask


def test_two_points():
    scale = scale_from_points(np.array([10.0, 20.0]), np.array([310.0, 420.0]), 100.0)
    assert scale.px_per_mm == pytest.approx(5.0)
    assert scale.source == "two_points"
    assert scale.relative_sd == pytest.approx(np.hypot(2 * 2**0.5 / 500, 0.005))


@pytest.mark.parametrize("length_mm", [0.0, -3.0, np.nan, np.inf])
def test_no_length(length_mm):
    with pytest.raises(UsageError, match="makes no scale"):
        scale_from_points(np.zeros(2), np.array([0.0, 300.0]), length_mm)
    with pytest.raises(UsageError, match="makes no scale"):
        scale_from_width(np.ones((9, 9), bool), length_mm)


@pytest.mark.parametrize("far", [0.0, 19.0, np.nan])
def test_points_too_near(far):
    with pytest.raises(UsageError, match="px apart"):
        scale_from_points(np.zeros(2), np.array([0.0, far]), 50.0)


@given(st.integers(0, 10_000))
@settings(max_examples=30, deadline=None)
def test_longest_extent_against_all_pairs(seed):
    """scipy.spatial: the greatest of all distances between two pixels."""
    mask = blob(seed)
    assert longest_px(mask) == pytest.approx(pdist(np.argwhere(mask)).max() + 1)


def test_typed_width():
    mask = blob(1)
    scale = scale_from_width(mask, 200.0)
    assert scale.px_per_mm * 200 == pytest.approx(longest_px(mask))
    assert scale.source == "typed_width"


def test_guess():
    rules = load_rules()
    mask = blob(2)
    scale = guess_scale(mask, rules)
    assert scale.source == "guess"
    assert longest_px(mask) / scale.px_per_mm == pytest.approx(
        rules.value("typical_clump_mm")
    )
    assert scale.relative_sd == rules.value("typical_clump_relative_sd")


def test_an_empty_mask():
    with pytest.raises(PhotoError, match="No clump"):
        guess_scale(np.zeros((50, 50), bool), load_rules())
