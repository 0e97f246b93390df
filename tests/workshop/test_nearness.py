"""What is nearer to the camera looks larger, by the laws of the pinhole camera."""

import numpy as np
import pytest

pytest.importorskip("torch")

from eyefind.workshop.anatomy import Clump, Mark, Tube
from eyefind.workshop.grow import Wishes, grow
from eyefind.workshop.nearness import seen_from_near
from eyefind.workshop.pose import Posed, pose


def posed(seed: int = 3) -> Posed:
    rng = np.random.default_rng(seed)
    return pose(rng, grow(rng, Wishes(eyes=True, broken=False)), "above", 0.0)


@pytest.mark.parametrize(("height_mm", "larger"), [(0, 1.0), (100, 1.25), (250, 2.0)])
def test_magnification_is_that_of_a_pinhole(height_mm: float, larger: float) -> None:
    """Distance over distance left: 500 mm over 500, 400 and 250 mm."""
    points = np.array([[0.0, 0, height_mm], [40, 0, height_mm], [40, 30, height_mm]])
    tube = Tube("tuber", "T1", points, np.full(3, 6.0))
    balls = np.zeros((1, 3))
    clump = Clump(balls, np.ones(1), [tube], [], "washed", np.ones(3), 0)
    seen = seen_from_near(Posed(clump, np.eye(3), np.zeros(2)), 500.0).clump.tubes[0]
    np.testing.assert_allclose(seen.radius, 6.0 * larger)
    np.testing.assert_allclose(seen.points[:, :2], points[:, :2] * larger)


def test_from_afar_nothing_changes() -> None:
    real = posed()
    far = seen_from_near(real, 1e9).clump
    for one, other in zip(real.clump.tubes, far.tubes, strict=True):
        np.testing.assert_allclose(one.points, other.points, atol=1e-3)
    assert seen_from_near(real, float("inf")) is real


def test_shapes_stay_alike_so_what_touched_still_touches() -> None:
    """Two balls of 10 mm that touch, one on the other."""
    points = np.array([[0.0, 0, 40], [0, 0, 60], [0, 14, 74]])
    tube = Tube("tuber", "T1", points, np.full(3, 10.0))
    clump = Clump(points[:1], np.ones(1), [tube], [], "washed", np.ones(3), 0)
    seen = seen_from_near(Posed(clump, np.eye(3), np.zeros(2)), 420.0).clump.tubes[0]
    gaps = np.linalg.norm(np.diff(seen.points, axis=0), axis=1)
    np.testing.assert_allclose(gaps, seen.radius[1:] + seen.radius[:-1], rtol=0.04)


def test_eyes_stay_on_the_crown() -> None:
    seen = seen_from_near(posed(), 420.0).clump
    eyes: list[Mark] = [
        mark for mark in seen.marks if mark.kind == "eye" and mark.on == "crown"
    ]
    assert eyes
    for eye in eyes:
        gaps = np.linalg.norm(seen.ball_places - eye.place, axis=1) - seen.ball_radii
        assert np.abs(gaps).min() < 1e-6
