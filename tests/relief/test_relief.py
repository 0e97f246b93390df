"""The relief against Lambert's law on spheres, whose normals are known exactly."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lamplit import lamp, photograph, skin, slopes, sphere

from eyefind.relief import Relief, bumps, even_colour, in_bytes, make_relief, shade
from eyefind.relief.lamps import Lamps, find_lamps
from eyefind.relief.round_shape import round_normals
from eyefind.relief.solve import solve_slope

NORMALS, MASK = sphere()
COLOUR = skin(MASK.shape, MASK)
PX_PER_MM = 6.0
GENTLE = MASK & (NORMALS[..., 2] > 0.85)
"""Where slopes are below 32 degrees: the outline itself is known to nobody."""


def frames_of(lamps, **how):
    return [
        photograph(NORMALS, COLOUR, one, seed=k, **how) for k, one in enumerate(lamps)
    ]


def lit_by_all(lamps, least=0.05):
    return GENTLE & np.all([NORMALS @ one > least for one in lamps], axis=0)


def apart_deg(one, other):
    cosines = np.clip((np.asarray(one) * np.asarray(other)).sum(axis=1), -1, 1)
    return np.degrees(np.arccos(cosines))


def whole(relief, plane):
    """Put a plane of a relief of step 1 where it lies in the frames; 0 around it."""
    top, left = relief.corner_rc
    out = np.zeros((*MASK.shape, *plane.shape[2:]), plane.dtype)
    out[top : top + plane.shape[0], left : left + plane.shape[1]] = plane
    return out


def errors(relief, where):
    off = whole(relief, relief.slope) - slopes(NORMALS)
    return np.linalg.norm(off, axis=2)[where & whole(relief, relief.valid)]


def bumps_of(frames, mask):
    relief = make_relief(frames, mask, PX_PER_MM)
    return whole(relief, bumps(relief, 3.0))


def ring(count, height_deg, first_deg=20.0):
    return [lamp(first_deg + 360 * k / count, height_deg) for k in range(count)]


@given(radius=st.integers(12, 60))
@settings(max_examples=10, deadline=None)
def test_a_round_outline_makes_the_half_sphere(radius):
    normals, mask = sphere(2 * radius + 9, float(radius))
    middle = normals[..., 2] > 0.5
    cosines = (round_normals(mask) * normals).sum(axis=2)[middle & mask]
    # The outline is known to a pixel only.
    assert np.degrees(np.arccos(cosines.clip(-1, 1))).mean() < 100 / radius


@given(azimuth=st.floats(0, 360), height=st.floats(10, 38), count=st.integers(2, 4))
@settings(max_examples=15, deadline=None)
def test_the_lamps_are_found_from_the_clump_alone(azimuth, height, count):
    lamps = ring(count, height, azimuth)
    relief = make_relief(frames_of(lamps), MASK, PX_PER_MM)
    # Two lamps light little skin in common: measured, up to 5 degrees off, else 2.
    assert apart_deg(relief.lamps, lamps).max() < (6.0 if count == 2 else 3.0)


@pytest.mark.parametrize("height_deg", [10, 20, 35])
@pytest.mark.parametrize("count", [3, 4])
def test_slopes_agree_with_the_sphere(count, height_deg):
    lamps = ring(count, height_deg)
    relief = make_relief(frames_of(lamps), MASK, PX_PER_MM)
    off = errors(relief, lit_by_all(lamps))
    assert len(off) > 500
    assert np.median(off) < 0.03
    assert np.quantile(off, 0.95) < 0.08


def test_two_frames_tell_the_slope_along_their_lamps_only():
    lamps = [lamp(90, 20), lamp(270, 20)]
    relief = make_relief(frames_of(lamps), MASK, PX_PER_MM)
    where = lit_by_all(lamps) & whole(relief, relief.valid)
    slope = whole(relief, relief.slope)
    along = np.abs(slope[..., 1] - slopes(NORMALS)[..., 1])[where]
    assert np.median(along) < 0.03
    assert np.abs(slope[..., 0][where]).max() < 0.02


@given(slope=st.floats(-0.3, 0.3), height=st.floats(20, 60), skin=st.floats(0.05, 1))
def test_two_opposite_lamps_make_the_ratio_image(slope, height, skin):
    """(L - R) / (L + R) = -slope / tan(height), by Lambert's law; the skin cancels."""
    lamps = np.array([lamp(270, height), lamp(90, height)])
    normal = np.array([0.0, -slope, 1.0]) / np.hypot(1, slope)
    light = skin * (lamps @ normal)[:, None].astype(np.float32)
    found, valid = solve_slope(
        light, np.ones((2, 1), bool), Lamps(lamps, np.ones(2), 0.0)
    )
    left, right = light[:, 0]
    ratio = (left - right) / (left + right)
    assert valid.all()
    assert found[0, 1] == pytest.approx(ratio * np.tan(np.radians(height)), abs=5e-3)
    assert found[0, 1] == pytest.approx(slope, abs=5e-3)


@pytest.mark.parametrize("exposures", [(1, 1.2, 1, 1), (1, 0.8, 1.2, 0.9)])
def test_exposure_jumps_are_evened_out(exposures):
    lamps = ring(4, 20)
    frames = [
        photograph(NORMALS, COLOUR, one, exposure=0.7 * by, seed=7)
        for one, by in zip(lamps, exposures, strict=True)
    ]
    off = errors(make_relief(frames, MASK, PX_PER_MM), lit_by_all(lamps))
    assert np.median(off) < 0.03


def test_white_balance_is_matched_to_the_first_frame():
    lamps = [lamp(90, 30), lamp(270, 30)]
    first, second = frames_of(lamps)
    warm = photograph(NORMALS, COLOUR * (1.25, 1.0, 0.75), lamps[1], seed=1)
    plain = even_colour([first, second], MASK).astype(int)
    matched = even_colour([first, warm], MASK).astype(int)
    assert np.abs(matched - plain)[MASK].mean() < 3


def test_two_px_of_misregistration_keep_the_bump():
    """An eye of 3 mm at 6 px/mm, 2 px off: its convexity must not be lost."""
    bump, mask = _with_bump()
    lamps = ring(4, 25)
    frames = [photograph(bump, COLOUR, one, seed=3) for one in lamps]
    shaken = [
        np.roll(frame, shift, axis=1)
        for frame, shift in zip(frames, (0, 2, 0, -2), strict=True)
    ]
    clean, off = bumps_of(frames, mask), bumps_of(shaken, mask)
    eye = np.s_[130:171, 130:171]
    around = mask.copy()
    around[eye] = False
    around &= cv2.erode(mask.view(np.uint8), np.ones((61, 61))) > 0
    assert clean[eye].max() > 4 * np.quantile(clean[around], 0.99)
    assert off[eye].max() > 2 * np.quantile(off[around], 0.99)


def _with_bump():
    """Return the sphere with a half-round eye of 3 mm on its top."""
    eye, on_eye = sphere(radius_px=1.5 * PX_PER_MM * 1.2)
    normals = NORMALS.copy()
    gentle = on_eye & (eye[..., 2] > 0.5)
    normals[gentle] = eye[gentle]
    return normals, MASK


def test_of_four_frames_a_glint_in_one_is_left_out():
    lamps = ring(4, 25)
    frames = frames_of(lamps)
    spot = np.s_[120:140, 150:170]
    glint = frames[1].copy()
    light = np.minimum(glint[spot].astype(int) + 70, 249)  # bright, yet not clipped
    glint[spot] = light
    relief = make_relief([frames[0], glint, *frames[2:]], MASK, PX_PER_MM)
    inside = np.zeros_like(MASK)
    inside[spot] = True
    assert np.median(errors(relief, inside & lit_by_all(lamps))) < 0.06


def test_clipped_glare_leaves_the_colour_picture():
    lamps = ring(3, 30)
    frames = frames_of(lamps)
    spot = np.s_[140:160, 140:160]
    without = even_colour(frames, MASK)
    glare = frames[2].copy()
    glare[spot] = 255
    glared = [*frames[:2], glare]
    off = even_colour(glared, MASK)[spot].astype(int) - without[spot]
    assert np.abs(off).mean() < 8
    relief = make_relief(glared, MASK, PX_PER_MM)
    assert whole(relief, relief.valid)[spot].all()


def test_a_cast_shadow_in_one_of_four_frames_is_left_out():
    lamps = ring(4, 25)
    frames = frames_of(lamps)
    spot = np.s_[130:150, 130:150]
    dark = frames[0].copy()
    dark[spot] = photograph(NORMALS, COLOUR, np.zeros(3), ambient=0.1)[spot]
    relief = make_relief([dark, *frames[1:]], MASK, PX_PER_MM)
    inside = np.zeros_like(MASK)
    inside[spot] = True
    assert np.median(errors(relief, inside)) < 0.06


def test_a_lamp_that_did_not_move_leaves_the_surface_flat():
    frames = [photograph(NORMALS, COLOUR, lamp(90, 20), seed=k) for k in (1, 2)]
    relief = make_relief(frames, MASK, PX_PER_MM)
    assert np.isfinite(relief.slope).all()
    strong = np.abs(whole(relief, bumps(relief, 3.0)))[GENTLE]
    assert np.median(strong) < 0.1


def test_the_card_outweighs_a_lopsided_clump():
    """Light on what lies flat is the same share of each lamp's height."""
    lamps = [lamp(90, 15), lamp(270, 35)]
    light = np.array([np.maximum(NORMALS[MASK] @ one, 0) for one in lamps])
    level = np.array([one[2] for one in lamps])
    found = find_lamps(light, NORMALS[MASK], level)
    assert apart_deg(found.towards, lamps).max() < 2.0


def test_bumps_are_the_change_of_slope_across_their_size():
    """A sphere of radius r turns by size / r across a bump's size (closed form)."""
    truth = Relief(
        slopes(NORMALS).astype(np.float32), MASK, np.array(ring(4, 30)), PX_PER_MM
    )
    top = np.s_[145:155, 145:155]
    found = bumps(truth, 3.0)
    assert found[top] == pytest.approx(3.0 * PX_PER_MM / 120, rel=0.05)
    assert not found[~MASK].any()


@given(
    down=st.floats(-1, 1),
    right=st.floats(-1, 1),
    azimuth=st.floats(0, 360),
    height=st.floats(5, 90),
)
def test_shading_is_lamberts_law(down, right, azimuth, height):
    slope = np.full((2, 2, 2), (down, right), np.float32)
    plane = Relief(slope, np.ones((2, 2), bool), np.eye(3), PX_PER_MM)
    normal = np.array([-down, -right, 1.0]) / np.sqrt(1 + down**2 + right**2)
    expected = 255 * max(0.0, float(normal @ lamp(azimuth, height)))
    assert shade(plane, azimuth, height)[0, 0] == pytest.approx(expected, abs=1)


def test_what_is_no_set_is_refused():
    frame = frames_of([lamp(0, 30)])[0]
    with pytest.raises(ValueError, match="two or more"):
        make_relief([frame], MASK, PX_PER_MM)
    with pytest.raises(ValueError, match="one size"):
        make_relief([frame, frame[:-1]], MASK, PX_PER_MM)


def test_without_a_clump_nothing_is_known():
    relief = make_relief(frames_of(ring(2, 30)), np.zeros_like(MASK), PX_PER_MM)
    assert not relief.valid.any()
    assert not relief.slope.any()


@pytest.mark.parametrize("value", [0, 128, 255])
@pytest.mark.filterwarnings("error")
def test_frames_that_say_nothing_make_a_flat_surface(value):
    frames = [np.full((*MASK.shape, 3), value, np.uint8)] * 3
    relief = make_relief(frames, MASK, PX_PER_MM)
    assert np.isfinite(relief.slope).all()
    assert relief.valid.any() == (value == 128)
    assert np.median(np.abs(whole(relief, relief.slope)[MASK])) < 0.3


@pytest.mark.parametrize("zoom", [1, 2, 3])
def test_a_finer_photo_is_told_the_same_in_its_own_place(zoom):
    """The relief stays at its own scale; told of any cut-out it lies where it was."""
    bump, mask = _with_bump()
    frames = [photograph(bump, COLOUR, one, seed=3) for one in ring(4, 25)]
    size = (zoom * MASK.shape[1], zoom * MASK.shape[0])
    fine = [cv2.resize(one, size, interpolation=cv2.INTER_NEAREST) for one in frames]
    mask = cv2.resize(mask.view(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    relief = make_relief(fine, mask, zoom * PX_PER_MM)
    assert relief.px_per_mm == PX_PER_MM
    corner = np.array([100.0, 90.0]) * zoom
    told = in_bytes(relief, corner, 1.0 / zoom, (100, 120)).astype(int)
    rows, cols = np.nonzero(told > 0.5 * (told.max() + 128))
    # The bump's middle is that of the frames, at 149.5.
    assert rows.mean() == pytest.approx(49.5, abs=1.5)
    assert cols.mean() == pytest.approx(59.5, abs=1.5)
    beyond = in_bytes(relief, np.array([0.0, 0.0]), 1.0, (20, 20))
    assert not beyond.any()
