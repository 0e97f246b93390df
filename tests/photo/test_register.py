"""Laying frames together, against known shifts and OpenCV's own ECC result."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lamplit import lamp, moved, photograph, skin, sphere

from eyefind.photo.register import corners_of, from_corners, register, warp

NORMALS, MASK = sphere(500, 95.0, ((0.35, 0.4), (0.6, 0.6), (0.55, 0.3)))
COLOUR = skin(MASK.shape, MASK)


def frame(azimuth_deg, height_deg=20):
    return photograph(NORMALS, COLOUR, lamp(azimuth_deg, height_deg), seed=azimuth_deg)


def on_clump(homography):
    """Return where places of the clump, (x, y), go."""
    places = np.argwhere(MASK)[::501, ::-1].astype(np.float64)
    return cv2.perspectiveTransform(places[None], homography)[0]


def misfit_px(to_main, matrix):
    """Return how far a registered frame is off, px, at worst."""
    off = on_clump(to_main @ matrix) - on_clump(np.eye(3))
    return np.linalg.norm(off, axis=1).max()


@given(
    right=st.floats(-12, 12),
    down=st.floats(-12, 12),
    turn=st.floats(-1, 1),
    azimuth=st.sampled_from([170, 260, 350]),
)
@settings(max_examples=12, deadline=None)
def test_known_shifts_are_found_under_another_lamp(right, down, turn, azimuth):
    shaken, matrix = moved(frame(azimuth), right, down, turn)
    fit = register(frame(80), shaken, MASK)
    assert misfit_px(fit.to_main, matrix) < 0.6
    assert fit.residual_px < 3.0


def test_it_agrees_with_opencvs_ecc_under_one_lamp():
    """With the lamp unmoved plain ECC on the grey pictures is the yardstick."""
    main, (shaken, matrix) = frame(80), moved(frame(80), 4.3, -2.6, 0.4)
    grey = [cv2.cvtColor(one, cv2.COLOR_RGB2GRAY) for one in (main, shaken)]
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 200, 1e-7)
    _, ecc = cv2.findTransformECC(
        *grey, np.eye(2, 3, dtype=np.float32), cv2.MOTION_EUCLIDEAN, stop, None, 5
    )
    theirs = np.linalg.inv(np.vstack([ecc, (0, 0, 1)]).astype(float))
    ours = register(main, shaken, MASK).to_main
    assert np.abs(on_clump(ours @ matrix) - on_clump(theirs @ matrix)).max() < 0.3


def test_a_phone_in_the_hand_tilts_too():
    matrix = np.array([[1.004, 0.006, 3], [-0.004, 0.998, -2], [2e-5, -1.5e-5, 1]])
    shaken = cv2.warpPerspective(frame(260), matrix, MASK.shape[::-1])
    assert misfit_px(register(frame(80), shaken, MASK).to_main, matrix) < 1.0


def test_what_cannot_be_put_right_shows_in_the_residual():
    """One tuber rolled by 9 px, the others as they lay."""
    rolled, _ = moved(frame(260), 9, 0)
    mixed = frame(260)
    mixed[:, :220] = rolled[:, :220]
    assert register(frame(80), mixed, MASK).residual_px > 3.0
    assert register(frame(80), frame(260), MASK).residual_px < 1.5


@pytest.mark.parametrize("shape", [(300, 400, 3), (777, 501, 3)])
def test_corners_keep_the_homography(shape):
    matrix = np.array([[1.01, 0.02, 5.0], [-0.01, 0.99, -7.0], [1e-5, 2e-5, 1.0]])
    corners = np.round(corners_of(matrix, shape), 1)  # as the record rounds them
    again = from_corners(corners, shape)
    places = np.array([[[10.0, 20.0], [250.0, 130.0], [380.0, 290.0]]])
    off = cv2.perspectiveTransform(places, again) - cv2.perspectiveTransform(
        places, matrix
    )
    assert np.abs(off).max() < 0.1


def test_warping_lays_the_frame_on_the_main_one():
    main = frame(80)
    shaken, matrix = moved(main, 6, 3)
    back = warp(shaken, np.linalg.inv(matrix))
    assert np.abs(back.astype(int) - main)[MASK].mean() < 3
