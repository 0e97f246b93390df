"""One clump under several lamps, and what the judge of lamp sets makes of it."""

import msgspec
import numpy as np
import pytest

pytest.importorskip("torch")

import torch
from typer.testing import CliRunner

from eyefind.errors import EyefindError
from eyefind.workshop.__main__ import app
from eyefind.workshop.gather import read_truth
from eyefind.workshop.lamp_sets import judge_lamp_sets
from eyefind.workshop.scene import Setting, render
from eyefind.workshop.truth import Truth
from eyefind.workshop.twins import moved
from eyefind.workshop.write import write_clump

SEED, WIDTH = 2203, 400
SETTING = Setting("above", card=False, clutter=False, lamps=4)


@pytest.fixture(scope="module")
def picture():
    return render(SEED, WIDTH, setting=SETTING)


def test_the_frames_are_the_same_each_time(picture):
    again = render(SEED, WIDTH, setting=SETTING)
    assert len(again.frames) == 4
    for one, other in zip(picture.frames, again.frames, strict=True):
        np.testing.assert_array_equal(one.rgb, other.rgb)
        assert (one.toward, one.motion_px) == (other.toward, other.motion_px)


def test_lamps_stand_low_and_the_first_two_opposite(picture):
    towards = np.array([frame.toward for frame in picture.frames])
    np.testing.assert_allclose(np.linalg.norm(towards, axis=1), 1, atol=1e-5)
    level = towards[:, :2] / np.linalg.norm(towards[:, :2], axis=1)[:, None]
    assert level[0] @ level[1] < -0.5
    assert level[2] @ level[3] < -0.5
    bench = np.array([-picture.posed.slope[1], -picture.posed.slope[0], 1.0])
    rise = np.degrees(np.arcsin(towards @ bench / np.linalg.norm(bench)))
    assert (rise > 4.5).all()
    assert (rise < 40.5).all()


def test_only_the_main_frame_lies_still(picture):
    assert picture.frames[0].motion_px == (0.0, 0.0)
    assert all(frame.motion_px != (0.0, 0.0) for frame in picture.frames[1:])


def test_what_faces_the_lamp_is_lighter(picture):
    """Lambert's law: light goes with the cosine to the lamp."""
    z = picture.field.z.numpy()
    step = z.shape[1] / WIDTH
    rows, cols = (
        np.minimum(((np.arange(n) + 0.5) * step).astype(int), m - 1)
        for n, m in zip(picture.rgb.shape[:2], z.shape, strict=True)
    )
    down, right = (np.ascontiguousarray(g[np.ix_(rows, cols)]) for g in np.gradient(z))
    clump = picture.field.part.numpy()[np.ix_(rows, cols)] > 0
    for frame in picture.frames:
        light = frame.rgb.mean(axis=2)[clump]
        facing = -(frame.toward[0] * down + frame.toward[1] * right)[clump]
        rank = np.argsort(np.argsort(facing))
        assert np.corrcoef(light, rank)[0, 1] > 0.1


def test_a_frame_lies_as_far_off_as_its_truth_says():
    """A sine wave, closed form, shifted by parts of a pixel."""

    def wave(row, col):
        rows, cols = np.mgrid[:96, :128].astype(float)
        return np.sin((rows - row) / 4) * np.cos((cols - col) / 5)

    shifted = moved(torch.tensor(wave(0, 0)[..., None]), (1.4, -2.3))[..., 0].numpy()
    inner = slice(4, -4), slice(4, -4)
    assert np.abs(shifted - wave(1.4, -2.3))[inner].max() < 0.02


def test_a_set_is_written_with_its_truth(tmp_path):
    options = ["--count", "1", "--width", "160", "--oversample", "1", "--lamps", "2"]
    result = CliRunner().invoke(app, ["render", "--out", str(tmp_path), *options])
    assert result.exit_code == 0, result.output
    data = (tmp_path / "clump00000.truth.json").read_bytes()
    frames = msgspec.json.decode(data, type=Truth).frames
    names = ["clump00000.jpg", "clump00000-lamp2.jpg"]
    assert [frame.file for frame in frames] == names
    assert sorted(names) == sorted(path.name for path in tmp_path.glob("*.jpg"))
    assert frames[0].motion_px == (0.0, 0.0) != frames[1].motion_px


def test_one_two_and_four_frames_are_judged_side_by_side(tmp_path):
    write_clump(tmp_path, "a", SEED, WIDTH, "cpu", 1.0, SETTING)
    truth, *_ = read_truth(tmp_path / "a.truth.json")
    assert [frame.file for frame in truth.frames] == [
        "a.jpg",
        "a-lamp2.jpg",
        "a-lamp3.jpg",
        "a-lamp4.jpg",
    ]
    rows = judge_lamp_sets(tmp_path).splitlines()
    names = [row.split("|")[1].strip() for row in rows if row.startswith("|")][2:]
    assert names[:3] == ["one frame", "two frames", "four frames"]


def test_a_folder_without_sets_is_told(tmp_path):
    with pytest.raises(EyefindError, match="no lamp set"):
        judge_lamp_sets(tmp_path)
