"""The folder sample_images holds what SOURCES.md promises."""

from pathlib import Path

import cv2
import msgspec
import numpy as np
import pytest
from PIL import Image, ImageOps

from eyefind.workshop.truth import Truth

SAMPLES = Path(__file__).parents[2] / "sample_images"
NAMES = sorted(path.name.split(".")[0] for path in SAMPLES.glob("*.truth.json"))


def truth_of(name: str) -> Truth:
    data = (SAMPLES / f"{name}.truth.json").read_bytes()
    return msgspec.json.decode(data, type=Truth)


def test_there_are_enough_and_they_are_small_enough() -> None:
    assert len(NAMES) >= 8
    assert sum(path.stat().st_size for path in SAMPLES.iterdir()) < 20e6


def test_the_set_covers_what_the_finder_must_meet() -> None:
    truths = [truth_of(name) for name in NAMES]
    assert {truth.view for truth in truths} == {"above", "oblique", "side"}
    assert {len(truth.stems) for truth in truths} == {1, 2}
    parents = [any(t.kind == "spent_parent" for t in truth.tubers) for truth in truths]
    assert True in parents
    assert False in parents
    tubers = [tuber for truth in truths for tuber in truth.tubers]
    assert any(tuber.kind == "tuber_on_tuber" for tuber in tubers)
    assert any(tuber.broken_neck and tuber.neck_visible for tuber in tubers)
    kinds = {patch.kind for truth in truths for patch in truth.patches}
    assert kinds == {"rat_tail", "soft"}
    assert sum(truth.card for truth in truths) > len(truths) / 2
    assert sorted(fault for truth in truths for fault in truth.spoilt) == [
        "blur",
        "dark",
    ]
    files = [Image.open(SAMPLES / truth.file) for truth in truths]
    assert any(file.getexif().get(0x0112, 1) != 1 for file in files)


@pytest.mark.parametrize("name", NAMES)
def test_each_is_listed_and_agrees_with_its_truth(name: str) -> None:
    truth = truth_of(name)
    assert name in (SAMPLES / "SOURCES.md").read_text(encoding="utf-8")
    upright = ImageOps.exif_transpose(Image.open(SAMPLES / f"{name}.jpg"))
    assert upright.size == (truth.width_px, truth.height_px)
    assert truth.width_px >= (1600 if truth.frames else 3000)
    labels = cv2.imread(str(SAMPLES / f"{name}.truth.png"), cv2.IMREAD_UNCHANGED)
    assert labels.shape == truth.label_shape
    shrink = labels.shape[1] / truth.width_px
    for eye in truth.eyes:
        row, col = (eye.row_px + 0.5) * shrink, (eye.col_px + 0.5) * shrink
        near = labels[int(row) - 1 : int(row) + 2, int(col) - 1 : int(col) + 2]
        assert np.isin(near // 100, (2, 3)).any(), "on the crown or a neck"


def test_the_lamp_set_is_told_frame_by_frame() -> None:
    (truth,) = [truth for truth in map(truth_of, NAMES) if truth.frames]
    name = truth.file.removesuffix(".jpg")
    assert [frame.file for frame in truth.frames] == [
        truth.file,
        *(f"{name}-lamp{number}.jpg" for number in (2, 3, 4)),
    ]
    files = [SAMPLES / frame.file for frame in truth.frames]
    assert {Image.open(file).size for file in files} == {
        (truth.width_px, truth.height_px)
    }
    assert sum(file.stat().st_size for file in files) < 2e6


def test_every_picture_belongs_to_a_truth() -> None:
    told = {truth.file for truth in map(truth_of, NAMES)}
    told |= {frame.file for name in NAMES for frame in truth_of(name).frames}
    assert {path.name for path in SAMPLES.glob("*.jpg")} == told
