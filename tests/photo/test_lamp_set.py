"""What the check says of a lamp set, and that it goes on with what is good."""

import cv2
import numpy as np
import pytest
from lamplit import lamp, moved, photograph, skin, sphere
from PIL import Image

from eyefind.photo import frames_again, lay_together, read_photo
from eyefind.photo.lamp_set import ADVICE
from eyefind.relief import make_relief
from eyefind.rules import load_rules

RULES = load_rules()
NORMALS, MASK = sphere(500, 95.0, ((0.35, 0.4), (0.6, 0.6), (0.55, 0.3)))
COLOUR = skin(MASK.shape, MASK)
PX_PER_MM = 5.0


def frame(azimuth_deg, exposure=0.8, height_deg=20):
    return photograph(
        NORMALS,
        COLOUR,
        lamp(azimuth_deg, height_deg),
        exposure=exposure,
        seed=azimuth_deg,
    )


@pytest.fixture
def laid(tmp_path):
    """Return a function that lays frames, main one first, together."""

    def lay(*frames):
        paths = [tmp_path / f"f{number}.png" for number in range(len(frames))]
        for path, rgb in zip(paths, frames, strict=True):
            Image.fromarray(rgb).save(path)
        photo = read_photo(paths[0])
        return lay_together(photo, paths[1:], MASK, None, PX_PER_MM, RULES)

    return lay


def codes(lamp_set):
    return [remark.code for remark in lamp_set.remarks]


def test_a_good_set_has_no_remarks(laid):
    found = laid(frame(80), moved(frame(260), 3, -2, 0.2)[0], frame(350), frame(170))
    assert codes(found) == []
    assert len(found.frames) == 4
    assert [fact.photo.file for fact in found.facts] == ["f1.png", "f2.png", "f3.png"]
    assert np.abs(found.facts[0].corners_px[0]).max() > 1
    assert np.abs(found.facts[1].corners_px[0]).max() < 1


def test_a_clump_that_moved_is_told_and_left_out(laid):
    rolled = frame(260)
    rolled[:, :220] = moved(rolled, 12, 0)[0][:, :220]
    found = laid(frame(80), rolled, frame(350))
    assert codes(found) == ["set_moved"]
    assert "f1.png" in found.remarks[0].text
    assert [fact.left_out for fact in found.facts] == ["set_moved", ""]
    assert len(found.frames) == 2


def test_another_clump_is_told_and_left_out(laid):
    normals, mask = sphere(500, 80.0, ((0.3, 0.7), (0.7, 0.3)))
    other = photograph(normals, skin(mask.shape, mask, 9), lamp(260, 20))
    assert codes(laid(frame(80), other)) in (["set_view"], ["set_moved"])


def test_a_lamp_that_did_not_move_leaves_one_photo(laid):
    found = laid(frame(80), frame(84), frame(76))
    assert codes(found) == ["set_lamp"]
    assert "f1.png" in found.remarks[0].text
    assert "f2.png" in found.remarks[0].text
    assert len(found.frames) == 1


def test_two_frames_of_one_lamp_beside_the_main_one_count_once(laid):
    found = laid(frame(80), frame(260), frame(258))
    assert [fact.left_out for fact in found.facts] == ["", "set_lamp"]


def test_a_blurred_frame_is_told_and_left_out(laid):
    blurred = cv2.GaussianBlur(frame(260), (0, 0), 1.2 * PX_PER_MM)
    found = laid(frame(80), blurred, frame(350))
    assert codes(found) == ["set_blur"]
    assert len(found.frames) == 2


def test_an_exposure_jump_of_a_fifth_needs_no_word(laid):
    assert codes(laid(frame(80, 0.6), frame(260, 0.72))) == []


def test_a_large_exposure_jump_is_told_and_evened_out(laid):
    found = laid(frame(80, 0.8), frame(260, 0.4))
    assert codes(found) == ["set_exposure"]
    assert "darker" in found.remarks[0].text
    assert len(found.frames) == 2


def test_a_frame_of_another_size_is_told(laid):
    found = laid(frame(80), frame(260)[:-4], frame(350))
    assert codes(found) == ["set_size"]
    assert [fact.left_out for fact in found.facts] == ["set_size", ""]


def test_an_unreadable_frame_is_told_and_the_others_go_on(tmp_path):
    paths = [tmp_path / name for name in ("a.png", "b.png", "c.png")]
    for path, azimuth in zip(paths, (80, 260, 350), strict=True):
        Image.fromarray(frame(azimuth)).save(path)
    paths[1].write_bytes(b"no picture")
    photo = read_photo(paths[0])
    found = lay_together(photo, paths[1:], MASK, None, PX_PER_MM, RULES)
    assert codes(found) == ["set_unread"]
    assert "b.png" in found.remarks[0].text
    assert len(found.frames) == 2


def test_every_code_has_advice_for_the_grower():
    assert all(words.endswith(".") for words in ADVICE.values())


def test_the_record_is_enough_to_lay_the_frames_together_again(laid, tmp_path):
    found = laid(frame(80), moved(frame(260), 3, -2, 0.2)[0], frame(350))
    photo = read_photo(tmp_path / "f0.png")
    again = frames_again(photo, found.facts, tmp_path)
    off = np.abs(again[1].astype(int) - found.frames[1])[MASK].mean()
    assert len(again) == 3
    assert off < 1.0
    (tmp_path / "f2.png").unlink()
    Image.fromarray(frame(10)).save(tmp_path / "f1.png")  # another picture by now
    assert len(frames_again(photo, found.facts, tmp_path)) == 1


@pytest.mark.parametrize("spoil", ["blurred", "rolled", "same lamp"])
def test_one_bad_frame_of_four_does_no_harm_to_the_relief(laid, spoil):
    bad = frame(260)
    if spoil == "blurred":
        bad = cv2.GaussianBlur(bad, (0, 0), 1.2 * PX_PER_MM)
    elif spoil == "rolled":
        bad[:, :220] = moved(bad, 12, 0)[0][:, :220]
    else:
        bad = frame(82)
    lamp_set = laid(frame(80), bad, frame(320), frame(200))
    assert len(lamp_set.frames) == 3
    truth = -NORMALS[..., :2] / np.maximum(NORMALS[..., 2:], 1e-3)
    relief = make_relief(lamp_set.frames, MASK, PX_PER_MM)
    (top, left), (rows, cols) = relief.corner_rc, relief.valid.shape
    here = np.s_[top : top + rows, left : left + cols]
    gentle = MASK[here] & relief.valid & (NORMALS[here][..., 2] > 0.93)
    found, true = relief.slope[gentle].ravel(), truth[here][gentle].ravel()
    assert np.corrcoef(found, true)[0, 1] > 0.9
