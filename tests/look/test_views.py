"""Views: statistics from inside the mask, truth of simple light recovered."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from painted import painted_clump

from eyefind.look import views

VIEWS = [views.even_light, views.local_contrast, views.colour_stretch, views.relief]


def ball(lamp_deg: float, px_per_mm: float = 4.0, lamp_height_deg: float = 35.0):
    """Render a matt ball by Lambert's law: light = max(0, normal . lamp)."""
    size, radius = 200, 80.0
    rows, cols = np.mgrid[:size, :size] - (size - 1) / 2
    up = np.sqrt(np.maximum(radius**2 - rows**2 - cols**2, 0))
    normal = np.stack([cols, -rows, up]) / radius
    angle, height = np.deg2rad([lamp_deg, lamp_height_deg])
    lamp = np.array(
        [np.cos(angle) * np.cos(height), np.sin(angle) * np.cos(height), np.sin(height)]
    )
    light = np.maximum(np.tensordot(lamp, normal, 1), 0) * 0.8 + 0.1
    mask = rows**2 + cols**2 <= radius**2
    grey = np.where(mask, 255 * light ** (1 / 2.2), 40).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2), mask, px_per_mm


@pytest.mark.parametrize("view", VIEWS)
def test_a_view_keeps_shape_type_and_everything_outside_the_mask(view):
    painted = painted_clump(tubers=3, px_per_mm=2.0, shape=(600, 600))
    mask = np.zeros((600, 600), bool)
    mask[200:400, 200:400] = True
    before = painted.rgb.copy()
    seen = view(painted.rgb, mask, 2.0)
    assert seen.shape == before.shape
    assert seen.dtype == np.uint8
    assert np.array_equal(seen[~mask], before[~mask])
    assert np.array_equal(painted.rgb, before)


@pytest.mark.parametrize("view", VIEWS)
def test_the_bench_does_not_change_the_view(view):
    painted = painted_clump(tubers=3, px_per_mm=2.0, shape=(600, 600))
    mask = np.zeros((600, 600), bool)
    mask[180:420, 180:420] = True
    other = painted.rgb.copy()
    other[~mask] = (255, 0, 255)
    inner = np.zeros_like(mask)
    inner[190:410, 190:410] = True
    one, two = view(painted.rgb, mask, 2.0), view(other, mask, 2.0)
    assert np.abs(one[inner].astype(int) - two[inner]).max() <= 2


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("shape", [(1, 1), (3, 40), (64, 64)])
@pytest.mark.parametrize("filled", [True, False])
def test_a_view_survives_plain_and_tiny_pictures(view, shape, filled):
    rgb = np.full((*shape, 3), 90, np.uint8)
    seen = view(rgb, np.full(shape, filled), 4.0)
    assert seen.shape == rgb.shape
    if not filled:
        assert np.array_equal(seen, rgb)


def test_even_light_takes_a_ramp_of_light_away():
    ramp = np.linspace(60, 200, 400)
    rgb = np.repeat(np.repeat(ramp[None, :, None], 400, 0), 3, 2).astype(np.uint8)
    seen = views.even_light(rgb, np.ones((400, 400), bool), 2.0)
    inside = seen[60:-60, 60:-60, 0].astype(float)
    before = rgb[60:-60, 60:-60, 0].astype(float)
    assert np.ptp(inside) < 0.15 * np.ptp(before)


def test_colour_stretch_brings_all_colours_to_equal_uncorrelated_spread():
    rng = np.random.default_rng(5)
    base = rng.normal(0, 20, (300, 300, 1))
    rgb = np.clip(128 + base + rng.normal(0, 5, (300, 300, 3)), 0, 255).astype(np.uint8)
    # Grain of several px, so that the smoothing before the stretch leaves it.
    rgb = np.kron(rgb[:100, :100], np.ones((3, 3, 1), np.uint8))
    seen = views.colour_stretch(rgb, np.ones(rgb.shape[:2], bool), 1.0)
    spread = np.cov(seen.reshape(-1, 3).astype(float), rowvar=False)
    assert np.sqrt(np.diag(spread)) == pytest.approx([views.STRETCHED_SD] * 3, rel=0.1)
    assert abs(np.corrcoef(seen.reshape(-1, 3).T)[0, 1]) < 0.1


@settings(max_examples=15, deadline=None)
@given(st.floats(-179, 179), st.floats(15, 60))
def test_the_lamp_of_a_matt_ball_is_found(lamp_deg, height_deg):
    """Against Lambert's law, in closed form."""
    found = views.lamp_direction(*ball(lamp_deg, lamp_height_deg=height_deg))
    off = (found - lamp_deg + 180) % 360 - 180
    assert abs(off) < 5


@pytest.mark.parametrize("lamp_deg", [0.0, 90.0, 180.0, -90.0, 45.0])
def test_relief_shows_bumps_light_and_pits_dark_from_any_side(lamp_deg):
    px_per_mm, size = 8.0, 240
    rows, cols = np.mgrid[:size, :size].astype(float)
    height = np.zeros((size, size))
    for centre, sign in ((80, 1), (160, -1)):
        square = (rows - 120) ** 2 + (cols - centre) ** 2
        height += (
            sign * 0.6 * px_per_mm * np.exp(-square / (2 * (1.2 * px_per_mm) ** 2))
        )
    slope_down, slope_right = np.gradient(height)
    angle = np.deg2rad(lamp_deg)
    light = 0.5 - 0.3 * (slope_right * np.cos(angle) - slope_down * np.sin(angle))
    rgb = np.repeat(np.clip(light * 255, 0, 255).astype(np.uint8)[..., None], 3, 2)
    seen = views.relief(rgb, np.ones((size, size), bool), px_per_mm, lamp_deg)
    assert seen[120, 80, 0] > 160
    assert seen[120, 160, 0] < 95


def test_blur_inside_counts_only_the_mask():
    plane = np.full((80, 80), 5.0, np.float32)
    mask = np.zeros((80, 80), bool)
    mask[20:60, 20:60] = True
    plane[~mask] = 1000.0
    assert views.blur_inside(plane, mask, 6.0)[mask] == pytest.approx(5.0, abs=1e-3)
