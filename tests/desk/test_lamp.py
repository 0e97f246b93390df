"""The lamp in the grower's hand: where it stands, what it shows, how fast it swings."""

import msgspec
import numpy as np
import pytest
from lamp_sets import painted_under, write_lamp_set
from lamplit import to_srgb

from eyefind.data import FrameFacts, PhotoFacts
from eyefind.desk.lamp import (
    FRAMES_GONE,
    NO_GOOD_FRAME,
    NO_SET,
    Lamp,
    all_lamps_shown,
    frame_shown,
    lamp_at,
    read_frames,
    shaded,
    wait_ms,
    why_off,
)
from eyefind.desk.magnify import Window, natural, window_at
from eyefind.desk.prepare import Prepared, load
from eyefind.desk.settings import (
    LEAST_CHANGES_PER_S,
    MOST_CHANGES_PER_S,
    Settings,
    check,
    read_settings,
)
from eyefind.desk.worker import Worker
from eyefind.errors import UsageError
from eyefind.photo.sharpness import LINEAR

MOST_FLASHES_PER_S = 3
"""WCAG 2.2, 2.3.1."""


@pytest.fixture(scope="module")
def main_frame(tmp_path_factory):
    return write_lamp_set(tmp_path_factory.mktemp("set"), "bed 1")


@pytest.fixture(scope="module")
def lit(main_frame):
    return read_frames(main_frame, main_frame.with_name("bed 1.eyefind.json"))


@pytest.fixture(scope="module")
def ready(main_frame):
    record = main_frame.with_name("bed 1.eyefind.json")
    return load(main_frame, Prepared(record, "singles", []))


def test_no_pace_is_above_three_changes_a_second():
    assert MOST_CHANGES_PER_S <= MOST_FLASHES_PER_S
    for pace in (0.0, LEAST_CHANGES_PER_S, 1, 2.5, 3, 3.5, 50, 1e9):
        assert wait_ms(pace) * MOST_FLASHES_PER_S >= 1000


@pytest.mark.parametrize("pace", [3.1, 10, 0.4, -1])
def test_no_setting_takes_another_pace(tmp_path, pace):
    with pytest.raises(UsageError, match="changes_per_s"):
        check(Settings(changes_per_s=pace))
    file = tmp_path / "review.json"
    file.write_bytes(msgspec.json.encode({"changes_per_s": pace}))
    settings, complaint = read_settings(file)
    assert settings.changes_per_s == Settings().changes_per_s
    assert "changes_per_s" in complaint


def test_the_chosen_pace_is_kept():
    assert [wait_ms(pace) for pace in (0.5, 1, 2, 3)] == [2000, 1000, 500, 334]


@pytest.mark.parametrize(
    ("azimuth", "x", "y"), [(0, 0, -1), (90, 1, 0), (180, 0, 1), (270, -1, 0)]
)
def test_the_dial_is_the_bench_from_above(azimuth, x, y):
    low, half = Lamp(azimuth, 0), Lamp(azimuth, 45)
    assert low.on_dial == pytest.approx((x, y))
    assert half.on_dial == pytest.approx((x / 2, y / 2))
    for lamp in (low, half):
        back = lamp_at(*lamp.on_dial)
        assert (back.azimuth_deg, back.height_deg) == pytest.approx(
            (lamp.azimuth_deg, lamp.height_deg)
        )


def test_beyond_the_rim_the_lamp_lies_on_the_bench():
    assert lamp_at(5, 0) == Lamp(90, 0)
    assert lamp_at(0, 0).height_deg == 90


def test_any_direction_and_any_height():
    lamp, sides = Lamp(0, 0), set()
    for _ in range(24):
        lamp = lamp.turned(15)
        sides.add(lamp.azimuth_deg)
    assert lamp.azimuth_deg == 0
    assert len(sides) == 24
    assert lamp.turned(-15).azimuth_deg == 345
    assert lamp.raised(-5).height_deg == 0
    assert lamp.raised(200).height_deg == 90


def test_the_lamp_in_words():
    assert Lamp(315, 20).words == "above left, 20 degrees high"
    assert Lamp(350, 5).words == "above, 5 degrees high"


def rim(lit, lamp):
    """Mean grey of the clump's skin on its left and its right, by the relief."""
    height, width = lit.relief.valid.shape
    step, half = lit.relief.step, np.array([height, width]) / 2
    middle = lit.relief.corner_rc + (half + 0.5) / step - 0.5
    whole = Window(*middle, step, height, width)
    grey = shaded(lit, whole, lamp)[..., 0].astype(float)
    falls_right = lit.relief.valid & (lit.relief.slope[..., 1] < -0.5)
    falls_left = lit.relief.valid & (lit.relief.slope[..., 1] > 0.5)
    assert min(falls_left.sum(), falls_right.sum()) > 5000
    return grey[falls_left].mean(), grey[falls_right].mean()


def test_the_side_towards_the_lamp_is_bright(lit):
    """Lambert's law: what falls to the right faces a lamp on the right."""
    left, right = rim(lit, Lamp(90, 20))
    assert right > left + 80
    left, right = rim(lit, Lamp(270, 20))
    assert left > right + 80


def test_overhead_both_sides_are_alike(lit):
    left, right = rim(lit, Lamp(90, 90))
    assert abs(left - right) < 25


def test_a_piece_is_shaded_as_the_whole_and_in_its_place(lit):
    row, col = 600.0, 600.0
    window = window_at((row, col), 8, 4.0, (120, 160))
    wide = window_at((row, col), 8, 4.0, (360, 480))
    piece, whole = (shaded(lit, w, Lamp(90, 20)) for w in (window, wide))
    assert np.abs(piece - whole[120:240, 160:320].astype(int)).max() <= 1
    assert piece.std() > 5


def test_beyond_the_clump_the_photo_stands_still(lit, ready):
    rows = lit.frames[0].shape[0]
    edge = (lit.corner_rc[0] + rows / 2, float(lit.corner_rc[1]))
    window = Window(*edge, 2.0, 200, 200)
    photo, frame = natural(ready, window), frame_shown(lit, ready, window, 1)
    assert (frame[:, :100] == photo[:, :100]).all()
    assert (frame[:, 104:] != photo[:, 104:]).mean() > 0.5
    assert not shaded(lit, window, Lamp())[:, :95].any()
    far = Window(-500.0, -500.0, 2.0, 40, 40)
    assert not shaded(lit, far, Lamp()).any()
    assert (frame_shown(lit, ready, far, 1) == natural(ready, far)).all()


@pytest.mark.parametrize("place", [(600.0, 600.0), (401.5, 700.25)])
def test_the_first_frame_is_the_photo_itself(lit, ready, place):
    window = window_at(place, 4, 4.0, (300, 300))
    assert (frame_shown(lit, ready, window, 0) == natural(ready, window)).all()


def test_the_frames_differ_by_their_light_alone(lit, ready):
    window = window_at((600.0, 600.0), 4, 4.0, (300, 300))
    shown = [frame_shown(lit, ready, window, number) for number in range(3)]
    assert len({one.tobytes() for one in shown}) == 3
    means = [one.mean() for one in shown]
    assert max(means) < 1.25 * min(means)


def test_a_frame_exposed_otherwise_is_shown_alike(tmp_path, monkeypatch):
    """A frame 0.6 times as bright: without evening out the swing would flash."""
    frames = painted_under((80, 260))
    frames[260] = to_srgb(0.6 * LINEAR[frames[260]])
    monkeypatch.setattr("lamp_sets.painted_under", lambda _: frames)
    path = write_lamp_set(tmp_path, "bed 1", (80, 260))
    lit = read_frames(path, path.with_name("bed 1.eyefind.json"))
    height, width = lit.frames[0].shape[:2]
    crown = np.s_[height // 3 : -height // 3, width // 3 : -width // 3]
    means = [frame[crown].mean() for frame in lit.frames]
    assert means[1] == pytest.approx(means[0], rel=0.1)
    assert frames[260].mean() < 0.85 * frames[80].mean()


def test_all_lamps_at_once_leave_out_the_glare_of_one(tmp_path, monkeypatch):
    """A burnt-out patch of the photo itself shows the skin of the other frames."""
    frames = painted_under((80, 260, 350))
    spot = np.s_[590:612, 590:612]
    clean = frames[80][spot].copy()
    frames[80][spot] = 255
    monkeypatch.setattr("lamp_sets.painted_under", lambda _: frames)
    path = write_lamp_set(tmp_path, "bed 1")
    record = path.with_name("bed 1.eyefind.json")
    lit, ready = read_frames(path, record), load(path, Prepared(record, "singles", []))
    window = Window(600.5, 600.5, 1.0, 20, 20)
    assert natural(ready, window).min() == 255
    shown = all_lamps_shown(lit, ready, window)
    assert np.abs(shown.mean((0, 1)) - clean.mean((0, 1))).max() < 25
    far = Window(-500.0, -500.0, 2.0, 40, 40)
    assert (all_lamps_shown(lit, ready, far) == natural(ready, far)).all()


def test_two_lamps_tell_one_axis_and_that_is_said(tmp_path, lit):
    path = write_lamp_set(tmp_path, "bed 1", (80, 260))
    two = read_frames(path, path.with_name("bed 1.eyefind.json"))
    assert "line between" in two.note
    assert lit.note == ""


def test_frames_that_are_gone_are_no_set(tmp_path):
    path = write_lamp_set(tmp_path, "bed 1")
    for other in tmp_path.glob("*-lamp*"):
        other.unlink()
    assert read_frames(path, path.with_name("bed 1.eyefind.json")) is None


def test_it_travels_to_the_background_and_back(tmp_path):
    path = write_lamp_set(tmp_path, "bed 1", (80, 260))
    worker = Worker("test")
    try:
        lit = worker.submit(
            read_frames, path, path.with_name("bed 1.eyefind.json")
        ).result(120)
    finally:
        worker.close()
    assert len(lit.frames) == 2
    assert lit.relief.valid.any()


def test_why_the_lamp_is_off():
    facts = PhotoFacts("a.jpg", "0" * 64, 10, 10)
    good, bad = (FrameFacts(facts, np.zeros((4, 2)), code) for code in ("", "set_blur"))
    assert why_off([]) == NO_SET
    assert why_off([bad, bad]) == NO_GOOD_FRAME
    assert why_off([bad, good]) == ""
    assert len({NO_SET, NO_GOOD_FRAME, FRAMES_GONE}) == 3
