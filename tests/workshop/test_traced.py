"""The second family: a pinhole camera, clumps that hold together, truth that fits."""

import os
from pathlib import Path

import cv2
import msgspec
import numpy as np
import pytest

from eyefind.model.network import PARTS
from eyefind.workshop.traced.build import Clump
from eyefind.workshop.traced.camera import CLOSE_MM, Camera, draw_camera
from eyefind.workshop.traced.mesh import Mesh, unit
from eyefind.workshop.traced.parts import Plan
from eyefind.workshop.traced.pen import pen_strokes
from eyefind.workshop.traced.settle import push_apart
from eyefind.workshop.traced.shape import plan_clump
from eyefind.workshop.truth import Truth

SEEDS = range(6)


def camera() -> Camera:
    forward = unit(np.array([0.3, -0.5, -0.8]))
    right = unit(np.cross(forward, [0.0, 0, 1]))
    axes = np.stack([right, np.cross(forward, right), forward])
    return Camera(-400 * forward, axes, 900.0, 640, 480, 400.0, 1.0, "oblique", 2.25)


def test_places_fall_where_opencv_projects_them() -> None:
    """Reference: OpenCV's pinhole model, principal point in the picture's middle."""
    shot = camera()
    places = np.random.default_rng(0).uniform(-80, 80, (50, 3))
    turn, _ = cv2.Rodrigues(shot.axes)
    matrix = np.array([[900.0, 0, 319.5], [0, 900.0, 239.5], [0, 0, 1]])
    xy, _ = cv2.projectPoints(places, turn, -shot.axes @ shot.eye, matrix, None)
    np.testing.assert_allclose(shot.to_px(places), xy[:, 0, ::-1], atol=1e-6)


def test_a_ray_through_a_pixel_meets_what_the_pixel_shows() -> None:
    shot = camera()
    places = np.random.default_rng(1).uniform(-80, 80, (50, 3))
    rows, cols = shot.to_px(places).T
    off = np.cross(shot.rays(rows, cols), unit(places - shot.eye))
    assert np.abs(off).max() < 1e-9


@pytest.mark.parametrize("seed", SEEDS)
def test_a_close_up_is_a_square_around_the_crown(seed: int) -> None:
    rng = np.random.default_rng(seed)
    mesh = Mesh(rng.uniform(-120, 120, (500, 3)), np.zeros((0, 3), np.int64))
    clump = Clump(plan_clump(rng), mesh, [], np.eye(3), np.array([5.0, 9, 30]), False)
    shot = draw_camera(rng, clump, 720, close=True)
    assert shot.width == shot.height == 720
    assert 720 / CLOSE_MM[1] / 1.3 < shot.px_per_mm < 720 / CLOSE_MM[0] * 1.3
    crown = shot.to_px(clump.on_bench(np.zeros(3)))
    assert np.abs(crown - 360).max() < 25 * shot.px_per_mm


def test_a_camera_holds_what_falls_in_its_picture() -> None:
    shot = camera()
    assert shot.frames(np.zeros((1, 3)))
    far_aside = 400 * shot.axes[0]
    assert not shot.frames(np.stack([np.zeros(3), far_aside]))


def test_pen_strokes_are_a_word_on_one_side_of_the_tuber() -> None:
    along, angle = np.meshgrid(np.arange(0, 100, 0.4), np.arange(0, 2 * np.pi, 0.02))
    straight = np.stack([along, 20 * np.cos(angle), 20 * np.sin(angle)], -1)
    ink = pen_strokes(np.random.default_rng(4), straight.reshape(-1, 3), 1.0)
    marked = straight.reshape(-1, 3)[ink > 0.5]
    assert 0.002 < np.mean(ink > 0.5) < 0.08
    middle = marked[:, 1:].mean(axis=0)
    assert (marked[:, 1:] @ middle > 0).all()
    assert marked[:, 0].min() > 20
    assert marked[:, 0].max() < 85


def overlap_mm(plan: Plan) -> float:
    """Sum of the depths by which tubers of the crown lie in one another."""
    roots = [root for root in plan.tubers() if root.attached_to == "crown"]
    total = 0.0
    for number, one in enumerate(roots):
        body = one.along > one.shoulder
        for other in roots[number + 1 :]:
            there = other.along > other.shoulder
            away = np.linalg.norm(
                one.path[body, None] - other.path[None, there], axis=2
            )
            deep = one.radius[body, None] + other.radius[None, there] - away
            total += max(float(deep.max(initial=0.0)), 0.0)
    return total


@pytest.mark.parametrize("seed", SEEDS)
def test_tubers_are_thin_at_the_neck_and_start_in_what_they_hang_on(seed: int) -> None:
    plan = plan_clump(np.random.default_rng(seed))
    for root in plan.tubers():
        assert root.leaves <= root.neck <= root.shoulder < root.end
        body = root.radius[(root.along >= root.shoulder) & (root.along <= root.end)]
        assert root.thickness(root.neck) < 2 * body.max()
        if root.attached_to == "crown":
            assert np.linalg.norm(root.path[0]) < plan.size


def test_pushing_apart_leaves_less_of_them_in_one_another() -> None:
    before = after = 0.0
    for seed in SEEDS:
        plan = plan_clump(np.random.default_rng(seed))
        before += overlap_mm(plan)
        push_apart(plan)
        after += overlap_mm(plan)
    assert after < 0.35 * before


def test_a_small_picture_is_taken_with_its_truth(tmp_path: Path) -> None:
    """Traced for real, where Mitsuba and LLVM are there."""
    mitsuba = pytest.importorskip("mitsuba")
    try:
        mitsuba.set_variant("llvm_ad_rgb")
    except ImportError as error:
        pytest.skip(f"Mitsuba finds no LLVM here: {error}")
    if not os.environ.get("DRJIT_LIBLLVM_PATH"):
        pytest.skip("DRJIT_LIBLLVM_PATH names no LLVM")
    from eyefind.workshop.traced.command import write_traced

    write_traced(tmp_path, "one", 9000, 240, 4, "llvm_ad_rgb")
    truth = msgspec.json.decode((tmp_path / "one.truth.json").read_bytes(), type=Truth)
    labels = cv2.imread(str(tmp_path / "one.truth.png"), cv2.IMREAD_UNCHANGED)
    picture = cv2.imread(str(tmp_path / "one.jpg"))
    assert picture.shape == (truth.height_px, truth.width_px, 3)
    assert labels.shape == truth.label_shape
    assert set(np.unique(labels // 100)) <= set(range(len(PARTS)))
    for eye in truth.eyes:
        row, col = round(eye.row_px), round(eye.col_px)
        near = labels[max(row - 3, 0) : row + 4, max(col - 3, 0) : col + 4] // 100
        assert np.isin(near, [PARTS.index("crown"), PARTS.index("neck")]).any()
