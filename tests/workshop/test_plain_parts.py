"""The plain yardstick on painted clumps whose crown and eyes are known."""

import cv2
import numpy as np
import pytest

from eyefind.workshop.plain_parts import crown_middle, plain_eyes

PX_PER_MM = 4.0
MIDDLE = np.array([400.0, 500.0])
EYES = MIDDLE + np.array([[0.0, 30.0], [-50.0, -20.0]])
ON_A_BODY = MIDDLE + np.array([0.0, 300.0])


@pytest.fixture
def clump():
    """Five tubers of 100 mm around one point."""
    mask = np.zeros((800, 1000), np.uint8)
    for angle in np.linspace(0, 2 * np.pi, 5, endpoint=False):
        row, col = MIDDLE + 320.0 * np.array([np.sin(angle), np.cos(angle)])
        ends = (int(MIDDLE[1]), int(MIDDLE[0])), (round(col), round(row))
        cv2.line(mask, *ends, 1, 110)
    return mask > 0


@pytest.fixture
def rgb(clump):
    """Brown, with light spots of 3 mm: two on the crown, one far out on a body."""
    picture = np.where(clump[..., None], (120, 90, 60), (30, 30, 30)).astype(np.uint8)
    for row, col in [*EYES, ON_A_BODY]:
        cv2.circle(picture, (int(col), int(row)), 6, (220, 190, 180), -1)
    return picture


def test_the_crown_is_where_the_tubers_meet(clump):
    far_mm = np.linalg.norm(crown_middle(clump, PX_PER_MM) - MIDDLE) / PX_PER_MM
    assert far_mm < 3.0


def test_light_spots_on_the_crown_come_first_and_bodies_are_left_out(rgb, clump):
    places, answer = plain_eyes(rgb, clump, PX_PER_MM)
    assert (np.diff(answer) <= 0).all()
    first = sorted(places[:2].tolist())
    np.testing.assert_allclose(first, sorted(EYES.tolist()), atol=2.0)
    assert np.linalg.norm(places - ON_A_BODY, axis=1).min() > 3.0 * PX_PER_MM


def test_places_are_those_of_the_photo_at_any_scale(rgb, clump):
    double = cv2.resize(rgb, None, fx=2, fy=2)
    mask = cv2.resize(clump.astype(np.uint8), None, fx=2, fy=2) > 0
    places, _ = plain_eyes(double, mask, 2 * PX_PER_MM)
    first = sorted(places[:2].tolist())
    np.testing.assert_allclose(first, sorted((2 * EYES).tolist()), atol=4.0)


def test_without_a_clump_there_is_nothing(rgb, clump):
    assert crown_middle(np.zeros_like(clump), PX_PER_MM) is None
    places, answer = plain_eyes(rgb, np.zeros_like(clump), PX_PER_MM)
    assert places.shape == (0, 2)
    assert len(answer) == 0
