"""A lamp set goes in, one record and one sheet come out."""

import json
from pathlib import Path

import jsonschema
import pytest
from lamp_sets import painted_under
from PIL import Image
from standins import install

from eyefind.job import Job
from eyefind.record import read_record
from eyefind.review import Review
from eyefind.rules import load_rules

JOB = Job(load_rules())


@pytest.fixture
def finder(monkeypatch):
    return install(monkeypatch)


@pytest.fixture(scope="module")
def lit():
    return painted_under((80, 260, 350, 170))


@pytest.fixture
def lamp_set(tmp_path, lit):
    """Return the main frame of a set of three, known by their names."""
    names = ("bed 3.png", "bed 3-lamp2.png", "bed 3-lamp3.png")
    for name, rgb in zip(names, lit.values(), strict=False):
        Image.fromarray(rgb).save(tmp_path / name)
    return tmp_path / names[0]


def files(record):
    return [frame.photo.file for frame in record.frames]


def test_one_record_names_all_frames(finder, lamp_set):
    done = JOB.look(lamp_set)
    fields = json.loads(done.record_path.read_text(encoding="utf-8"))
    schema = Path(__file__).parents[1] / "docs" / "record.schema.json"
    jsonschema.validate(fields, json.loads(schema.read_text(encoding="utf-8")))
    assert done.record.photo.file == "bed 3.png"
    assert files(done.record) == ["bed 3-lamp2.png", "bed 3-lamp3.png"]
    assert all(len(frame.photo.sha256) == 64 for frame in done.record.frames)
    assert not any(frame.left_out for frame in done.record.frames)
    assert [path.name for path in lamp_set.parent.glob("*.json")] == [
        "bed 3.eyefind.json"
    ]


def test_the_finder_gets_the_frames_that_are_good(finder, lamp_set):
    JOB.look(lamp_set)
    assert [one.shape for one in finder.further] == [(1200, 1200, 3)] * 2
    Path(lamp_set.with_name("bed 3-lamp2.png")).write_bytes(b"no picture")
    JOB.look(lamp_set)
    assert len(finder.further) == 1


def test_one_sheet_in_the_main_frames_pixels(finder, lamp_set):
    done = JOB.sheet(lamp_set)
    assert all(path.name.startswith("bed 3.eyefind") for path in done.sheets)
    assert (done.record.photo.height_px, done.record.photo.width_px) == (1200, 1200)


def test_a_photo_alone_has_no_frames(finder, lamp_set):
    for path in lamp_set.parent.glob("*lamp*"):
        path.unlink()
    assert JOB.look(lamp_set).record.frames == []


def test_frames_named_by_the_grower_stay_with_the_record(finder, tmp_path, lit):
    paths = [tmp_path / f"IMG_{number}.png" for number in (1, 2)]
    for path, rgb in zip(paths, lit.values(), strict=False):
        Image.fromarray(rgb).save(path)
    assert files(JOB.look(paths[0], paths[1:]).record) == ["IMG_2.png"]
    assert files(JOB.look(paths[0]).record) == ["IMG_2.png"]
    paths[1].unlink()
    assert files(JOB.look(paths[0]).record) == []


def test_a_new_frame_makes_the_plan_look_again(finder, lamp_set, lit):
    Review(JOB.look(lamp_set).record_path).say("E1", "confirmed", "Ida")
    JOB.plan(lamp_set)
    assert finder.looks == 1
    Image.fromarray(lit[170]).save(lamp_set.with_name("bed 3-lamp4.png"))
    record = JOB.plan(lamp_set).record
    assert finder.looks == 2
    assert len(record.frames) == 3
    assert [word.flag for word in record.decisions] == ["E1"]


def test_what_was_wrong_with_the_set_is_a_remark(finder, lamp_set, lit):
    Image.fromarray(lit[80]).save(lamp_set.with_name("bed 3-lamp2.png"))
    record = JOB.look(lamp_set).record
    assert "set_lamp" in [remark.code for remark in record.remarks]
    assert [frame.left_out for frame in record.frames] == ["set_lamp", ""]


def test_a_record_of_before_lamp_sets_is_read(finder, lamp_set):
    path = JOB.look(lamp_set).record_path
    fields = json.loads(path.read_text(encoding="utf-8"))
    del fields["frames"]
    path.write_text(json.dumps(fields | {"version": 1}), encoding="utf-8")
    assert read_record(path).frames == []
    assert len(JOB.look(lamp_set).record.frames) == 2
