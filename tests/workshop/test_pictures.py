"""Rendered pictures and their truth agree with each other."""

# ruff: noqa: E402 - the extra "workshop" may be missing

from copy import copy
from pathlib import Path

import cv2
import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps
from shapely import Polygon

torch = pytest.importorskip("torch")

from typer.testing import CliRunner

from eyefind.model.network import PARTS
from eyefind.workshop.__main__ import app
from eyefind.workshop.anatomy import Tube
from eyefind.workshop.coat import Coat
from eyefind.workshop.extract import labels_of, truth_of
from eyefind.workshop.filters import gaussian, to_linear, to_srgb
from eyefind.workshop.grow import Wishes
from eyefind.workshop.scene import Picture, Setting, render
from eyefind.workshop.stamp import uncovered
from eyefind.workshop.truth import Truth
from eyefind.workshop.write import Taken, as_jpeg, write_clump
from eyefind.workshop.writing import write_on_skin

CROWN, NECK = PARTS.index("crown"), PARTS.index("neck")
RICH = Setting("above", wishes=Wishes(7, 2, 1, 1, 2, broken=True, soft=True, eyes=True))


def truth_and_labels(picture: Picture) -> tuple[Truth, np.ndarray]:
    labels = labels_of(picture)
    return truth_of(picture, labels, "a.jpg", 0, []), labels


@pytest.fixture(scope="module")
def rich() -> Picture:
    return render(22, 400, setting=RICH)


def check_agreement(truth: Truth, labels: np.ndarray) -> None:
    """Every statement of a truth that its label image can confirm."""
    height, width = labels.shape
    assert (truth.height_px, truth.width_px) == (height, width)
    assert labels.max() < 100 * len(PARTS)
    ids = {tuber.id for tuber in truth.tubers}
    for eye in truth.eyes:
        assert labels[round(eye.row_px), round(eye.col_px)] // 100 in (CROWN, NECK)
        assert 0.25 < eye.visible_fraction <= 1
        assert eye.belongs_to in ids
        assert eye.delta_e >= 0
    for tuber in truth.tubers:
        assert tuber.attached_to == "crown" or tuber.attached_to in ids
        assert tuber.neck_width_mm <= tuber.max_diameter_mm
        if len(tuber.outline_px) > 3:
            _inside_own_label(tuber.outline_px, labels, int(tuber.id[1:]))


def _inside_own_label(
    outline: list[tuple[float, float]], labels: np.ndarray, number: int
) -> None:
    mine = np.zeros(labels.shape, np.uint8)
    points = np.array([(col, row) for row, col in outline], np.int32)
    cv2.fillPoly(mine, [points], 1)
    inside = labels[mine > 0]
    if len(inside) > 50:
        assert np.mean(inside % 100 == number) > 0.6


def test_rich_clump_agrees_with_its_labels(rich: Picture) -> None:
    truth, labels = truth_and_labels(rich)
    check_agreement(truth, labels)
    assert len(truth.stems) == 2
    assert [t.kind for t in truth.tubers].count("spent_parent") == 1
    assert [t.kind for t in truth.tubers].count("tuber_on_tuber") == 1
    assert sum(tuber.broken_neck for tuber in truth.tubers) == 1
    assert 1 <= sum(tuber.soft for tuber in truth.tubers) <= 3
    for part in ("bench", "body", "crown", "stem"):
        assert (labels // 100 == PARTS.index(part)).any()


@settings(max_examples=4, deadline=None)
@given(st.integers(0, 2**31))
def test_any_seed_agrees_with_its_labels(seed: int) -> None:
    check_agreement(*truth_and_labels(render(seed, 240)))


@pytest.mark.parametrize("seed", [2203, 2204, 2206])
def test_no_eye_sits_on_an_old_stem_or_a_cut_face(seed: int) -> None:
    picture = render(seed, 300, setting=Setting("above", wishes=Wishes(eyes=True)))
    on_eyes = picture.eye_at > 0
    assert bool(on_eyes.any())
    tubes = picture.field.tube[on_eyes].unique().tolist()
    kinds = {picture.posed.clump.tubes[n].kind for n in tubes if n >= 0}
    assert kinds <= {"tuber", "spent_parent", "tuber_on_tuber", "sprout", "grain"}


def test_a_thing_laid_over_an_eye_hides_it(rich: Picture) -> None:
    field, eyes = copy(rich.field), rich.eye_at.clone()
    one, *others = rich.eyes
    field.part = field.part.clone()
    field.part[eyes == one.index] = PARTS.index("tool_or_card")
    left = uncovered(field, rich.eyes, eyes)
    assert [eye.share for eye in left] == pytest.approx([e.share for e in others])
    assert not bool((eyes == one.index).any())


def test_writing_stays_on_the_body_of_one_tuber() -> None:
    seed, found = 0, 0
    picture = render(2, 300, setting=Setting("above", "slanting", "mat", False, False))
    while found < 2:
        seed += 1
        coat = Coat(torch.ones_like(picture.field.tex), torch.zeros(1))
        rng = np.random.default_rng(seed)
        write_on_skin(rng, picture.field, coat, picture.posed.clump)
        inked = (coat.colour < 1).any(dim=-1)
        if bool(inked.any()):
            found += 1
            assert len(picture.field.tube[inked].unique()) == 1
            assert set(picture.field.part[inked].tolist()) == {PARTS.index("body")}


def test_outlines_cover_what_is_labelled(rich: Picture) -> None:
    truth, labels = truth_and_labels(rich)
    part = labels // 100
    painted = (part > 0) & (part != PARTS.index("tool_or_card"))
    area = Polygon(truth.clump_outline_px).area
    assert area == pytest.approx(painted.sum(), rel=0.15)


def test_true_lengths_show_in_the_picture(rich: Picture) -> None:
    """No part reaches further from its neck than it is long, as large as it looks."""
    truth, labels = truth_and_labels(rich)
    tubes = {tube.id: tube for tube in rich.posed.clump.tubes}
    for tuber in truth.tubers:
        body = labels == PARTS.index("body") * 100 + int(tuber.id[1:])
        if not body.any():
            continue
        seen = tubes[tuber.id]
        swell = float(
            (np.diff(seen.along) / np.diff(_real(rich, tuber.id).along)).max()
        )
        away = np.argwhere(body) - np.array(tuber.neck_rc_px)
        reach_mm = np.hypot(*away.T).max() / truth.px_per_mm
        longest = (tuber.length_mm + tuber.max_diameter_mm / 2) * swell
        assert reach_mm <= longest + 2


def _real(picture: Picture, name: str) -> Tube:
    return next(tube for tube in picture.real.tubes if tube.id == name)


def test_measures_are_those_of_the_clump_not_of_its_picture(rich: Picture) -> None:
    truth, _ = truth_and_labels(rich)
    for tuber in truth.tubers:
        tube = _real(rich, tuber.id)
        assert tuber.neck_width_mm == pytest.approx(
            2 * tube.radius[tube.neck], abs=0.01
        )
        assert tuber.volume_ml == pytest.approx(tube.volume_ml, abs=0.01)
    sizes = [
        round(2 * mark.radius, 2) for mark in rich.real.marks if mark.kind == "eye"
    ]
    assert {eye.size_mm for eye in truth.eyes} <= set(sizes)


def test_same_seed_same_picture() -> None:
    one, two = render(5, 200), render(5, 200)
    np.testing.assert_array_equal(one.rgb, two.rgb)
    assert truth_and_labels(one)[0] == truth_and_labels(two)[0]
    assert not np.array_equal(one.rgb, render(6, 200).rgb)


def test_the_clump_does_not_depend_on_how_finely_it_is_drawn() -> None:
    coarse, fine = (truth_and_labels(render(8, w))[0] for w in (160, 320))
    assert [t.length_mm for t in coarse.tubers] == [t.length_mm for t in fine.tubers]
    for small, large in zip(coarse.tubers, fine.tubers, strict=True):
        doubled = 2 * (np.array(small.neck_rc_px) + 0.5) - 0.5
        assert doubled == pytest.approx(np.array(large.neck_rc_px), abs=1.0)


def test_the_same_seed_in_sets_of_any_size(tmp_path: Path) -> None:
    for folder, count, first in (("one", "1", "7"), ("two", "2", "6")):
        options = ["--count", count, "--first", first, "--width", "160"]
        options += ["--out", str(tmp_path / folder), "--oversample", "1"]
        result = CliRunner().invoke(app, ["render", *options])
        assert result.exit_code == 0, result.output
    for kind in (".jpg", ".truth.json", ".truth.png"):
        name = f"clump00007{kind}"
        one, two = (tmp_path / folder / name for folder in ("one", "two"))
        assert one.read_bytes() == two.read_bytes()


def test_files_hold_what_was_rendered(tmp_path: Path) -> None:
    taken = Taken("2024:11:02 10:14:31", 6, 90, 120)
    picture = write_clump(tmp_path, "a", 4, 240, oversample=1.0, taken=taken)
    truth = msgspec.json.decode((tmp_path / "a.truth.json").read_bytes(), type=Truth)
    file = Image.open(tmp_path / "a.jpg")
    assert file.size == (truth.height_px, truth.width_px), "stored on its side"
    upright = ImageOps.exif_transpose(file)
    assert upright.size == (truth.width_px, truth.height_px)
    wrong = np.abs(np.asarray(upright).astype(int) - picture.rgb).mean()
    assert wrong < 12
    assert file.getexif().get_ifd(0x8769)[0x9003] == "2024:11:02 10:14:31"
    labels = cv2.imread(str(tmp_path / "a.truth.png"), cv2.IMREAD_UNCHANGED)
    assert labels.dtype == np.uint16
    assert labels.shape == truth.label_shape == (labels.shape[0], 120)


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_every_orientation_shows_upright(orientation: int) -> None:
    """Orientation values of EXIF 2.3, read by Pillow."""
    rgb = np.zeros((48, 64, 3), np.uint8)
    rgb[:24, :32] = 250
    _, pixels = as_jpeg(rgb, 95, Taken(orientation=orientation))
    assert pixels.shape == rgb.shape
    assert np.abs(pixels.astype(int) - rgb).mean() < 2


def test_spoilt_pictures_are_spoilt() -> None:
    def look(*spoilt: str) -> tuple[float, float]:
        setting = Setting("above", "slanting", "mat", False, False, spoilt=spoilt)
        grey = cv2.cvtColor(render(9, 280, setting=setting).rgb, cv2.COLOR_RGB2GRAY)
        return float(grey.mean()), float(cv2.Laplacian(grey, cv2.CV_64F).var())

    (light, sharp), (_, blurred) = look(), look("blur")
    assert blurred < 0.5 * sharp
    assert look("dark")[0] < 0.4 * light < light < look("glare")[0]


def test_an_eye_painted_in_its_surroundings_has_no_contrast(rich: Picture) -> None:
    flat = Picture(**{**vars(rich), "rgb": np.full_like(rich.rgb, 128)})
    truth, _ = truth_and_labels(flat)
    assert truth.eyes
    assert all(eye.delta_e < 1e-6 for eye in truth.eyes)


def test_srgb_curve_against_the_standard() -> None:
    """IEC 61966-2-1: the break at 0.04045, and 0.5 is 0.2140 linear."""
    linear = to_linear(torch.tensor([0.0, 0.04045, 0.5, 1.0]))
    assert linear.tolist() == pytest.approx([0, 0.04045 / 12.92, 0.21404, 1], abs=1e-5)
    assert to_srgb(linear).tolist() == pytest.approx([0, 0.04045, 0.5, 1], abs=1e-4)


@pytest.mark.parametrize("sigma_px", [0.8, 2.5, 9.0])
def test_blur_against_opencv(sigma_px: float) -> None:
    image = torch.zeros(90, 120)
    image[40:52, 50:70] = 1.0
    ours = gaussian(image, sigma_px).numpy()
    theirs = cv2.GaussianBlur(image.numpy(), (0, 0), sigma_px)
    assert np.abs(ours - theirs).max() < 0.03
