"""What the look makes of the network's answers, drawn by hand."""

from dataclasses import replace

import numpy as np
import pytest
from painted import painted_clump
from skimage.draw import polygon

from eyefind.data import Points, Scale
from eyefind.look.anatomy import read_anatomy
from eyefind.look.clump import find_clump
from eyefind.look.collar import cut_out_collar
from eyefind.look.frame import cut_out
from eyefind.look.heat import heat_peaks
from eyefind.look.middles import split_by_middles
from eyefind.look.seen import (
    chances_on,
    eyes_afar,
    see_frames,
    sees_clump,
    share_inside,
    tissue,
)
from eyefind.model import Answers
from eyefind.model.network import PARTS, STRIDE
from eyefind.rules import load_rules

STEP = 0.25
RULES = load_rules()


def filled(outline: Points, shape: tuple[int, int]) -> np.ndarray:
    mask = np.zeros(shape, bool)
    mask[polygon(outline[:, 0], outline[:, 1], shape)] = True
    return mask


@pytest.fixture(scope="module")
def painted():
    return painted_clump()


@pytest.fixture(scope="module")
def answers(painted) -> Answers:
    """What a faultless network would say of the painted clump."""
    anatomy, px_per_mm = painted.anatomy, painted.scale.px_per_mm
    rows, cols = painted.rgb.shape[:2]
    part = np.zeros((rows, cols), int)
    offset = np.zeros((rows, cols, 2), np.float32)
    here = np.stack(np.mgrid[0:rows, 0:cols], axis=2)
    eye, neck = np.zeros((rows, cols)), np.zeros((rows, cols))
    row, col = np.mgrid[0:rows, 0:cols]
    parents = {f.belongs_to for f in painted.flags if f.kind == "spent_parent"}
    for tuber in anatomy.tubers:
        own = filled(tuber.outline_px, part.shape)
        name = "spent_parent" if tuber.id in parents else "body"
        part[own] = PARTS.index(name)
        offset[own] = (np.argwhere(own).mean(axis=0) - here[own]) / px_per_mm
        at = np.rint(tuber.neck_rc_px).astype(int)
        neck[at[0] - 3 : at[0] + 4, at[1] - 3 : at[1] + 4] = 0.9
    for stem in anatomy.stems:
        part[filled(stem.outline_px, part.shape)] = PARTS.index("stem")
    part[filled(anatomy.crown_outline_px, part.shape)] = PARTS.index("crown")
    for flag in painted.flags:
        if flag.kind == "eye":
            far = np.hypot(row - flag.row_px, col - flag.col_px)
            eye = np.maximum(eye, 0.8 * np.exp(-((far / 6.0) ** 2)))
    small = np.s_[2::4, 2::4]
    chance = np.eye(len(PARTS), dtype=np.float32)[part[small]]
    size = np.full(part[small].shape, 3.0 * px_per_mm, np.float32)
    planes = (np.float32(plane[small]) for plane in (eye, neck))
    return Answers(np.zeros(2), STEP, *planes, size, offset[small], chance)


def test_the_mask_is_what_is_neither_bench_nor_thing(painted, answers):
    truth = filled(painted.anatomy.clump_outline_px, painted.rgb.shape[:2])
    found = find_clump(painted.rgb, None, answers)
    assert (found & truth).sum() / (found | truth).sum() > 0.93
    assert tissue(answers, answers.eye.shape).mean() == pytest.approx(
        truth.mean(), rel=0.05
    )


def test_specks_are_no_clump(answers):
    bench = np.zeros_like(answers.parts)
    bench[..., PARTS.index("bench")] = 1
    bench[5:8, 5:8] = np.eye(len(PARTS))[PARTS.index("body")]
    assert sees_clump(answers)
    few = Answers(
        np.zeros(2),
        STEP,
        answers.eye,
        answers.neck,
        answers.eye_size,
        answers.offset_mm,
        bench,
    )
    assert not sees_clump(few)


def test_true_answers_give_the_true_anatomy(painted, answers):
    clump = find_clump(painted.rgb, None, answers)
    found = read_anatomy(painted.rgb, clump, painted.scale, RULES, answers)
    assert len(found.tubers) == len(painted.anatomy.tubers)
    assert len(found.stems) == len(painted.anatomy.stems)
    necks = np.array([tuber.neck_rc_px for tuber in found.tubers])
    for tuber in painted.anatomy.tubers:
        far = np.hypot(*(necks - tuber.neck_rc_px).T).min()
        assert far < 5 * painted.scale.px_per_mm


def test_touching_tubers_are_parted_by_their_middles(answers):
    """Two halves of one block that name two middles, and the same naming none."""
    rgb = np.full((400, 400, 3), 150, np.uint8)
    clump = np.zeros((400, 400), bool)
    clump[150:250, 50:350] = True
    scale = Scale(4.0, "card", 0.0)
    rows, cols = np.mgrid[0:100, 0:100] * 4.0 + 2
    chance = np.zeros((100, 100, len(PARTS)), np.float32)
    chance[..., PARTS.index("body")] = 1
    blank = np.zeros((100, 100), np.float32)

    def pieces(offset: np.ndarray) -> int:
        seen = Answers(np.zeros(2), STEP, blank, blank, blank, offset, chance)
        frame = cut_out(rgb, clump, scale)
        label = split_by_middles(frame, frame.mask, chances_on(frame, seen), seen)
        assert ((label > 0) == frame.mask).all()
        return len(np.unique(label)) - 1

    middle = np.where(cols < 200, 125.0, 275.0)
    two = np.stack([200.0 - rows, middle - cols], axis=2).astype(np.float32) / 4
    assert pieces(two) == 2
    assert pieces(np.zeros_like(two)) == 1


def test_shares_and_places_are_read_where_they_are(painted, answers):
    clump = filled(painted.anatomy.clump_outline_px, painted.rgb.shape[:2])
    for tuber in painted.anatomy.tubers:
        parent = any(
            f.kind == "spent_parent" and f.belongs_to == tuber.id for f in painted.flags
        )
        share = share_inside(answers, tuber.outline_px, "spent_parent")
        assert (share > 0.7) == parent
    assert share_inside(answers, np.full((3, 2), 40.0), "body") == 0.0
    eyes = np.array([(f.row_px, f.col_px) for f in painted.flags if f.kind == "eye"])
    afar = eyes_afar(answers, clump)
    for place in eyes:
        assert np.hypot(*(afar - place).T).min() < 2 * painted.scale.px_per_mm
    assert len(eyes_afar(answers, ~clump)) == 0


def test_peaks_of_the_heat_are_the_eyes(painted, answers):
    clump = filled(painted.anatomy.clump_outline_px, painted.rgb.shape[:2])
    collar = cut_out_collar(
        painted.rgb, clump, painted.anatomy, painted.scale, RULES, answers
    )
    assert collar is not None
    work_rc, size_mm = heat_peaks(collar, answers)
    eyes = np.array([(f.row_px, f.col_px) for f in painted.flags if f.kind == "eye"])
    found = collar.to_photo(work_rc)
    far = np.linalg.norm(found[:, None] - eyes[None], axis=2) / painted.scale.px_per_mm
    assert far.min(axis=0).max() < 2, "every eye is found"
    assert far.min(axis=1).max() < 2, "and nothing else"
    np.testing.assert_allclose(size_mm, 3.0, rtol=0.01)


def test_a_single_frame_is_asked_about_as_ever(answers, monkeypatch):
    monkeypatch.setattr("eyefind.look.seen.ask", lambda *_: answers)
    assert see_frames([np.zeros((8, 8, 3), np.uint8)], np.zeros(2), 1.0, 8.0) is answers


@pytest.mark.parametrize(
    ("main", "other", "both"), [(0.5, 0.5, 0.5), (0.9, 0.1, 0.5), (0.8, 0.5, 2 / 3)]
)
def test_odds_of_an_eye_are_averaged_over_the_frames(
    answers, monkeypatch, main, other, both
):
    # Odds of 4 and 1 have the geometric mean 2, a chance of two thirds.
    said = iter(
        replace(answers, eye=np.full(answers.eye.shape, chance, np.float32))
        for chance in (main, other)
    )
    monkeypatch.setattr("eyefind.look.seen.ask", lambda *_: next(said))
    frames = [np.zeros((8, 8, 3), np.uint8)] * 2
    seen = see_frames(frames, np.zeros(2), 1.0, 8.0)
    np.testing.assert_allclose(seen.eye, both, atol=1e-5)
    assert seen.parts is answers.parts


@pytest.mark.parametrize(
    ("px_per_mm", "zoom"),
    [(12.0, 1.0), (8.0, 1.0), (6.4, 1.25), (5.0, 1.6), (2.0, 1.6)],
)
def test_a_cut_out_of_few_px_is_shown_enlarged_and_places_stay(
    answers, monkeypatch, px_per_mm, zoom
):
    shown = {}

    def ask(picture, corner_rc, step, relief=None):
        shown.update(picture=picture, relief=relief)
        return replace(answers, corner_rc=corner_rc, step=step / STRIDE)

    monkeypatch.setattr("eyefind.look.seen.ask", ask)
    spot = np.zeros((80, 120, 3), np.uint8)
    spot[38:41, 88:91] = 255
    corner_rc = np.array([10.0, 20.0])
    seen = see_frames([spot], corner_rc, 0.5, px_per_mm, spot[..., 0])
    assert shown["picture"].shape == (80 * zoom, 120 * zoom, 3)
    assert shown["relief"].shape == shown["picture"].shape[:2]
    light = shown["picture"][..., 0].astype(float)
    middle = np.array(
        np.average(np.indices(light.shape), weights=[light] * 2, axis=(1, 2))
    )
    at = (middle + 0.5) / STRIDE - 0.5
    there = (np.array([39, 89]) + 0.5) / 0.5 - 0.5 + corner_rc
    np.testing.assert_allclose(seen.to_photo(at[None])[0], there, atol=0.3)
