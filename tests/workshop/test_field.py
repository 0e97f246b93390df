"""Painted shapes come back out of the height field with their true measures."""

# ruff: noqa: E402 - the extra "workshop" may be missing

import numpy as np
import pytest

torch = pytest.importorskip("torch")

from eyefind.model.network import PARTS
from eyefind.workshop.anatomy import Clump, Tube
from eyefind.workshop.field import Camera, Field, fill, put_tube
from eyefind.workshop.light import Lamp, normals, shadow, without_thin
from eyefind.workshop.noise import Noise
from eyefind.workshop.pose import Posed

PX_PER_MM = 3.0
CAMERA = Camera(PX_PER_MM, -50.0, -50.0, 300, 300, "cpu")


def flat_field() -> Field:
    return Field(CAMERA, np.zeros(2))


def straight(radius: float, **more: object) -> Tube:
    points = np.column_stack([np.linspace(-30, 30, 31), np.zeros(31), np.full(31, 20)])
    return Tube("tuber", "T1", points, np.full(31, radius), **more)


def test_a_ball_shows_its_radius_and_height() -> None:
    field = flat_field()
    spots = np.tile([5.0, -8.0, 25.0], (5, 1)) + np.linspace(-0.01, 0.01, 5)[:, None]
    put_tube(field, Tube("tuber", "T1", spots, np.full(5, 12.0)), 0, 1)
    mask = field.part > 0
    radius_mm = np.sqrt(float(mask.sum()) / np.pi) / PX_PER_MM
    assert radius_mm == pytest.approx(12.0, rel=0.01)
    row, col = (float(v.float().mean()) for v in mask.nonzero(as_tuple=True))
    assert (row, col) == pytest.approx(CAMERA.to_px(5.0, -8.0), abs=0.3)
    assert float(field.z.max()) == pytest.approx(37.0, abs=0.1)


def test_a_straight_tube_is_a_smooth_cylinder() -> None:
    field = flat_field()
    put_tube(field, straight(9.0), 0, 1)
    middle_row = round(CAMERA.to_px(0, 0)[0])
    ridge = field.z[middle_row, 75:225]
    assert float((ridge - 29.0).abs().max()) < 0.02, "no beads along its back"
    width_px = int((field.part[:, 150] > 0).sum())
    assert width_px / PX_PER_MM == pytest.approx(18.0, abs=0.7)


def test_along_runs_from_the_base_in_millimetres() -> None:
    field = flat_field()
    put_tube(field, straight(9.0), 0, 1)
    row = round(CAMERA.to_px(0, 0)[0])
    for x_mm in (-20.0, 0.0, 20.0):
        col = round(CAMERA.to_px(x_mm, 0)[1])
        assert float(field.along[row, col]) == pytest.approx(x_mm + 30, abs=0.5)


def test_parts_follow_each_other_along_a_tuber() -> None:
    field = flat_field()
    put_tube(field, straight(6.0, neck=3, neck_end=10, tail=25), 0, 1)
    row = round(CAMERA.to_px(0, 0)[0])
    line = field.part[row].tolist()
    seen = [PARTS[p] for i, p in enumerate(line) if i == 0 or p != line[i - 1]]
    assert seen == ["bench", "neck", "body", "thin_root", "bench"]


def test_a_stem_cut_towards_the_camera_shows_its_ring() -> None:
    points = np.column_stack([np.zeros(20), np.zeros(20), np.linspace(0, 60, 20)])
    stem = Tube("stem", "S1", points, np.full(20, 10.0), cut=True, hollow=0.5)
    field = flat_field()
    put_tube(field, stem, 0, 1)
    face = field.face >= 0
    assert np.sqrt(float(face.sum()) / np.pi) / PX_PER_MM == pytest.approx(10, rel=0.03)
    hole = face & (field.face < 0.5)
    assert float(field.z[hole].max()) < float(field.z[face & ~hole].min()) - 5


def test_the_crown_blends_balls_into_one_lump() -> None:
    balls = np.array([[-8.0, 0, 20], [8.0, 0, 20]])
    clump = Clump(balls, np.array([12.0, 12.0]), [], [], "washed", np.ones(3), 0)
    field = flat_field()
    noise = Noise(np.random.default_rng(0), "cpu")
    fill(field, Posed(clump, np.eye(3), np.zeros(2)), noise)
    crown = field.part == PARTS.index("crown")
    assert set(field.part.unique().tolist()) == {0, PARTS.index("crown")}
    wide = int(crown.any(dim=0).sum()) / PX_PER_MM
    assert wide == pytest.approx(40.0, abs=4.0)


def test_normals_of_a_slope() -> None:
    y = torch.arange(40.0)[:, None].expand(40, 40) / PX_PER_MM
    facing = normals(0.75 * y, PX_PER_MM)
    assert facing[20, 20].tolist() == pytest.approx([0.0, -0.6, 0.8], abs=1e-4)


@pytest.mark.parametrize("elevation_deg", [20, 35, 50])
def test_a_wall_casts_a_shadow_of_the_right_length(elevation_deg: float) -> None:
    """Height over the tangent of the lamp's elevation, as for a sundial."""
    z = torch.zeros(200, 400)
    z[:, 100:110] = 15.0
    lamp = Lamp(np.pi, np.radians(elevation_deg), (1, 1, 1), 0.0)
    lit = shadow(z, z, PX_PER_MM, lamp, samples=1)
    shaded_mm = float((lit[100, 110:] < 0.5).sum()) / PX_PER_MM
    expected = (15.0 - 0.3) / np.tan(np.radians(elevation_deg))
    assert shaded_mm == pytest.approx(expected, abs=1.0)
    assert float(lit[100, 20:95].min()) > 0.95, "the lamp's side stays lit"


def test_a_root_in_the_air_casts_no_wall() -> None:
    z = torch.zeros(120, 120)
    z[:, 60:64] = 30.0
    cast = without_thin(z, z > 0, PX_PER_MM)
    assert float(cast.max()) <= 1.0
