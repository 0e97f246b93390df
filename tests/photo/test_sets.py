"""Which photos are a lamp set: by name, by the grower's word, by view and time."""

from datetime import datetime, timedelta

import numpy as np
import pytest
from lamplit import lamp, moved, photograph, skin, sphere
from photo.files import exif_bytes
from PIL import Image

from eyefind.photo import find_photos, find_sets, further_frames
from eyefind.photo.set_names import main_of
from eyefind.photo.sets import is_same_view
from eyefind.photo.shading import shading_change
from eyefind.rules import load_rules

RULES = load_rules()
START = datetime(2026, 11, 3, 10, 0, 0)
PLACES = ((0.35, 0.4), (0.6, 0.6), (0.5, 0.3))


def view(azimuth_deg, places=PLACES, seed=0, height_deg=20):
    normals, mask = sphere(400, 70.0, places)
    colour = skin(mask.shape, mask, seed)
    return photograph(normals, colour, lamp(azimuth_deg, height_deg), seed=azimuth_deg)


def save(path, rgb, second=None):
    taken = None
    if second is not None:
        taken = f"{START + timedelta(seconds=second):%Y:%m:%d %H:%M:%S}"
    Image.fromarray(rgb).save(path, quality=90, exif=exif_bytes(taken=taken))
    return path


def names(sets):
    return [(one.main.name, [path.name for path in one.others]) for one in sets]


@pytest.fixture(scope="module")
def views():
    """Return four frames of one clump, and one of another on the same bench."""
    other = view(200, places=((0.4, 0.6), (0.7, 0.4)))
    return [view(azimuth) for azimuth in (80, 260, 350, 170)], other


def test_frames_are_known_by_their_names(tmp_path):
    for name in ("a.jpg", "a-lamp2.JPG", "a-lamp3.jpg", "a-lamp10.jpg", "b-lamp2.jpg"):
        (tmp_path / name).touch()
    main = tmp_path / "a.jpg"
    assert further_frames(main, []) == [
        tmp_path / "a-lamp2.JPG",
        tmp_path / "a-lamp3.jpg",
    ]
    assert main_of(tmp_path / "a-lamp3.jpg") == main
    # Without its main frame a photo stands for itself, whatever its name.
    assert main_of(tmp_path / "b-lamp2.jpg") is None
    found = [path.name for path in find_photos([tmp_path])]
    assert found == ["a-lamp10.jpg", "a.jpg", "b-lamp2.jpg"]


def test_frames_that_the_grower_names_go_first(tmp_path):
    for name in ("a.jpg", "a-lamp2.jpg", "c.jpg"):
        (tmp_path / name).touch()
    named = [tmp_path / "c.jpg"]
    assert further_frames(tmp_path / "a.jpg", named) == named


def test_one_view_under_a_moved_lamp_is_a_set(tmp_path, views):
    frames, other = views
    paths = [save(tmp_path / f"p{k}.jpg", rgb, 20 * k) for k, rgb in enumerate(frames)]
    paths.append(save(tmp_path / "p4.jpg", other, 80))
    assert names(find_sets(paths, RULES)) == [
        ("p0.jpg", ["p1.jpg", "p2.jpg", "p3.jpg"]),
        ("p4.jpg", []),
    ]


def test_the_order_of_names_does_not_matter(tmp_path, views):
    frames, _ = views
    late = save(tmp_path / "a.jpg", frames[1], 30)
    early = save(tmp_path / "b.jpg", frames[0], 0)
    assert names(find_sets([late, early], RULES)) == [("b.jpg", ["a.jpg"])]


@pytest.mark.parametrize("seconds", [(0, 400), (0, None), (None, None)])
def test_photos_far_apart_in_time_stay_apart(tmp_path, views, seconds):
    frames, _ = views
    paths = [
        save(tmp_path / f"p{k}.jpg", frames[k], second)
        for k, second in enumerate(seconds)
    ]
    assert [one.others for one in find_sets(paths, RULES)] == [[], []]


def test_a_photo_with_a_record_of_its_own_stays_apart(tmp_path, views):
    frames, _ = views
    paths = [save(tmp_path / f"p{k}.jpg", frames[k], 9 * k) for k in range(3)]
    sets = find_sets(paths, RULES, is_taken=lambda path: path.name == "p1.jpg")
    assert names(sets) == [("p0.jpg", []), ("p1.jpg", ["p2.jpg"])]


def test_a_set_has_four_frames_at_most(tmp_path, views):
    frames, _ = views
    paths = [
        save(tmp_path / f"p{k}.jpg", frames[k % 4 if k < 4 else 1], 9 * k)
        for k in range(5)
    ]
    assert len(find_sets(paths, RULES)[0].others) == 3


def test_the_same_light_twice_is_no_set(views):
    frames, _ = views
    darker = (frames[0] * 0.9).astype(np.uint8)
    assert not is_same_view(frames[0], darker, RULES)
    assert is_same_view(frames[0], frames[1], RULES)


def test_a_turned_or_another_clump_is_another_view(views):
    frames, other = views
    assert not is_same_view(frames[0], other, RULES)
    assert not is_same_view(frames[0], np.rot90(frames[1]), RULES)
    assert not is_same_view(frames[0], frames[1][:-2], RULES)


def test_a_file_that_is_no_photo_stays_alone(tmp_path, views):
    frames, _ = views
    good = save(tmp_path / "p0.jpg", frames[0], 0)
    bad = tmp_path / "p1.jpg"
    bad.write_bytes(good.read_bytes()[:3000])
    assert len(find_sets([good, bad], RULES)) == 2


def test_shading_changes_with_the_lamp_not_with_the_exposure():
    """By Lambert's law on a sphere: 20 degrees around it change it by the rule."""
    normals, mask = sphere(300, 130.0)
    colour = skin(mask.shape, mask)

    def change(turn_deg, exposure=0.8):
        one = photograph(normals, colour, lamp(90, 20), ambient=0.25)
        two = photograph(normals, colour, lamp(90 + turn_deg, 20), 0.25, exposure)
        return shading_change(one, two, mask)

    assert change(0) < 0.03
    assert change(0, exposure=0.6) < 0.05
    assert change(10) < RULES.value("lamp_set_change") < change(25)
    assert change(180) > 1.0


def test_a_nudged_phone_is_still_the_same_view(views):
    frames, _ = views
    nudged, _ = moved(frames[1], 5, -4, 0.3)
    assert is_same_view(frames[0], nudged, RULES)
