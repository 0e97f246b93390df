"""The whole way for one clump, with a stand-in for the finder."""

import json
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from PIL import Image
from standins import install, painted_photo

from eyefind.errors import PhotoError, RecordError
from eyefind.job import Job, TwoPoints, TypedWidth
from eyefind.record import read_record, record_path
from eyefind.review import Review, standing
from eyefind.rules import load_rules

RULES = load_rules()
JOB = Job(RULES)


@pytest.fixture
def finder(monkeypatch):
    return install(monkeypatch)


@pytest.fixture
def photo(tmp_path):
    return painted_photo(tmp_path / "Bl\u00fcte 7.png")


def say(photo, *words):
    review = Review(record_path(photo))
    for flag, says in words:
        review.say(flag, says, "Ida")


def words_of(done):
    return standing(done.record.flags, done.record.decisions)


def test_look_writes_the_record(finder, photo):
    done = JOB.look(photo)
    assert done.record_path == photo.with_name("Bl\u00fcte 7.eyefind.json")
    record = read_record(done.record_path)
    assert record.photo.file == "Bl\u00fcte 7.png"
    assert (record.photo.height_px, record.photo.width_px) == (1200, 1200)
    assert record.scale.source == "guess"
    assert [flag.id for flag in record.flags] == ["E1", "E2", "E3", "E4", "F1", "F2"]
    assert record.plan is None


def test_sheet_alone_goes_the_whole_way(finder, photo):
    done = JOB.sheet(photo)
    assert finder.looks == 1
    assert done.record.plan.style == "singles"
    assert not done.record.plan.reviewed
    assert {path.suffix for path in done.sheets} == {".png", ".pdf"}
    assert all(path.stat().st_size > 0 for path in done.sheets)
    # What is there already is not done again.
    JOB.sheet(photo)
    JOB.plan(photo)
    assert finder.looks == 1


def test_the_real_finder_goes_the_whole_way_too(photo):
    points = TwoPoints(np.array([100.0, 100.0]), np.array([100.0, 500.0]), 100.0)
    done = replace(JOB, ruler=points).sheet(photo)
    fields = json.loads(done.record_path.read_text(encoding="utf-8"))
    schema = Path(__file__).parents[1] / "docs" / "record.schema.json"
    jsonschema.validate(fields, json.loads(schema.read_text(encoding="utf-8")))
    assert done.record.anatomy.tubers
    assert all(path.stat().st_size > 0 for path in done.sheets)
    eye = next(flag for flag in done.record.flags if flag.kind == "eye")
    done = JOB.answer(photo, lambda review: review.say(eye.id, "confirmed", "Ida"))
    assert sum(piece.confirmed_eyes for piece in done.record.plan.pieces) == 1


def test_the_real_finder_counts_the_painted_tubers(photo):
    points = TwoPoints(np.array([100.0, 100.0]), np.array([100.0, 500.0]), 100.0)
    done = replace(JOB, ruler=points).look(photo)
    assert len(done.record.anatomy.tubers) == 6


def test_answers_reach_the_plan(finder, photo):
    JOB.look(photo)
    say(photo, *((f"E{n}", "confirmed") for n in (1, 2, 3, 4)), ("F2", "confirmed"))
    assert not JOB.plan(photo).record.plan.reviewed
    say(photo, ("F1", "confirmed"))
    plan = JOB.plan(photo).record.plan
    assert plan.reviewed
    assert sum(piece.confirmed_eyes for piece in plan.pieces) == 4


def test_an_added_eye_that_was_taken_back_is_in_no_plan(finder, photo):
    JOB.look(photo)
    review = Review(record_path(photo))
    eye = review.add_eye(560, 640, 3, "Ida")
    with_eye = JOB.plan(photo).record.plan
    assert eye.id in {name for piece in with_eye.pieces for name in piece.eyes}
    review.undo("Ida")
    without = JOB.sheet(photo).record.plan
    assert eye.id not in {name for piece in without.pieces for name in piece.eyes}


def test_style_is_kept_until_another_is_asked_for(finder, photo):
    whole = replace(JOB, style="whole")
    assert whole.sheet(photo).record.plan.style == "whole"
    assert JOB.sheet(photo).record.plan.style == "whole"
    done = JOB.answer(photo, lambda review: review.say("E1", "confirmed", "Ida"))
    assert done.record.plan.style == "whole"
    assert JOB.look(photo).record.plan.style == "whole"


def test_answering_without_a_plan_makes_none(finder, photo):
    JOB.look(photo)
    done = JOB.answer(photo, lambda review: review.say("E1", "confirmed", "Ida"))
    assert done.record.plan is None
    assert words_of(done) == {"E1": "confirmed"}


def test_a_new_look_keeps_answers_by_place(finder, photo):
    JOB.look(photo)
    say(photo, ("E1", "confirmed"), ("E2", "rejected"))
    # The finder has changed: it sees E2 no more and numbers the others anew.
    first, _, third, *_ = finder.flags
    finder.flags = [replace(third, id="E1"), replace(first, id="E2")]
    done = JOB.look(photo)
    assert words_of(done) == {"E1": "confirmed", "E2": "rejected"}
    places = {flag.id: flag.col_px for flag in done.record.flags}
    assert places["E1"] == pytest.approx(first.col_px, abs=0.1)
    assert places["E3"] == pytest.approx(third.col_px, abs=0.1)
    assert set(places) == {"E1", "E2", "E3"}


def test_words_given_while_we_look_are_kept(finder, photo):
    JOB.look(photo)
    finder.on_look = lambda: say(photo, ("E3", "rejected"))
    assert words_of(JOB.look(photo)) == {"E3": "rejected"}


def test_scales(finder, photo):
    points = TwoPoints(np.array([100.0, 100.0]), np.array([100.0, 500.0]), 100.0)
    done = replace(JOB, ruler=points).look(photo)
    assert done.record.scale.source == "two_points"
    assert done.record.scale.px_per_mm == pytest.approx(4.0)
    # A scale once given stays, until another is given.
    assert JOB.look(photo).record.scale.source == "two_points"
    done = replace(JOB, ruler=TypedWidth(200.0)).sheet(photo)
    assert done.record.scale.source == "typed_width"
    assert finder.looks == 3


def test_changed_photo_is_refused_and_no_answer_lost(finder, photo):
    JOB.look(photo)
    say(photo, ("E1", "confirmed"))
    before = record_path(photo).read_bytes()
    Image.new("RGB", (300, 300), "white").save(photo)
    for act in (
        JOB.look,
        JOB.plan,
        JOB.sheet,
        lambda path: JOB.answer(path, lambda review: review.undo("Ida")),
    ):
        with pytest.raises(RecordError, match=r"not the picture.*changed"):
            act(photo)
    assert record_path(photo).read_bytes() == before


@pytest.mark.parametrize("act", [JOB.look, JOB.plan, JOB.sheet])
def test_damaged_record_is_mended_with_its_answers(finder, photo, act):
    JOB.look(photo)
    say(photo, ("E2", "confirmed"), ("E4", "rejected"))
    path = record_path(photo)
    damaged = path.read_bytes()[: path.read_bytes().index(b'"anatomy"') + 500]
    path.write_bytes(damaged)
    finder.flags = finder.flags[1:2]
    done = act(photo)
    assert words_of(done) == {"E2": "confirmed", "E4": "rejected"}
    assert path.with_name(f"{path.name}.damaged-1").read_bytes() == damaged
    remark = done.record.remarks[0]
    assert remark.code == "record_damaged"
    assert "2 answers" in remark.text
    assert "damaged-1" in remark.text


def test_answers_whose_flags_are_gone_count_for_nothing(finder, photo):
    JOB.look(photo)
    say(photo, ("E2", "confirmed"))
    path = record_path(photo)
    path.write_bytes(path.read_bytes()[: path.read_bytes().index(b'"flags"')])
    done = JOB.look(photo)
    assert [word.flag for word in done.record.decisions] == ["E2"]
    assert words_of(done) == {}
    assert "E2" in done.record.remarks[0].text
    assert "E2" not in {flag.id for flag in done.record.flags}


def test_damaged_record_of_another_picture_is_left_alone(finder, photo):
    path = JOB.look(photo).record_path
    damaged = path.read_bytes()[:-100]
    path.write_bytes(damaged)
    Image.new("RGB", (300, 300), "white").save(photo)
    with pytest.raises(RecordError, match="not the picture"):
        JOB.look(photo)
    assert path.read_bytes() == damaged


def test_newer_record_stops_before_the_work(finder, photo):
    path = JOB.look(photo).record_path
    path.write_text(json.dumps(json.loads(path.read_text()) | {"version": 9}))
    for act in (JOB.look, JOB.plan, JOB.sheet):
        with pytest.raises(RecordError, match="newer eyefind"):
            act(photo)
    assert finder.looks == 1


def test_answering_needs_a_record_and_the_photo(finder, photo):
    with pytest.raises(RecordError, match="eyefind look"):
        JOB.answer(photo, lambda review: None)
    JOB.look(photo)
    photo.unlink()
    with pytest.raises(PhotoError, match="Bl\u00fcte 7"):
        JOB.answer(photo, lambda review: None)


def test_two_photos_of_one_name_do_not_mix(finder, tmp_path):
    first = painted_photo(tmp_path / "IMG_7.png")
    second = first.with_suffix(".jpg")
    Image.open(first).save(second, quality=95)
    one, other = JOB.sheet(first), JOB.sheet(second)
    files = {one.record_path, other.record_path, *one.sheets, *other.sheets}
    assert len(files) == 10
    assert read_record(one.record_path).photo.file == "IMG_7.png"
    assert read_record(other.record_path).photo.file == "IMG_7.jpg"


def test_out_folder_is_made(finder, photo, tmp_path):
    out = tmp_path / "sheets" / "November"
    done = replace(JOB, out=out).sheet(photo)
    assert {path.parent for path in (done.record_path, *done.sheets)} == {out}
    assert [path.name for path in photo.parent.iterdir() if path.is_file()] == [
        photo.name
    ]
