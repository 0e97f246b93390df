"""The queue of clumps: what is done, open, refused."""

import json
from dataclasses import replace

import pytest
from records import decision, painted_record
from standins import painted_photo

from eyefind.desk.queue import Entry, find_clumps, folder_of_records
from eyefind.errors import PhotoError
from eyefind.record import write_record


@pytest.fixture
def garden(tmp_path):
    """Four photos: not looked at, open, done, and one with a record from the future."""
    for name in "abcd":
        painted_photo(tmp_path / f"{name}.png")
    record = painted_record("b.png")
    write_record(
        replace(record, decisions=[decision("E1", "confirmed")]),
        tmp_path / "b.eyefind.json",
    )
    said = [decision(flag.id, "rejected") for flag in record.flags]
    done = replace(painted_record("c.png"), decisions=said)
    write_record(done, tmp_path / "c.eyefind.json")
    write_record(painted_record("d.png"), tmp_path / "d.eyefind.json")
    path = tmp_path / "d.eyefind.json"
    fields = json.loads(path.read_bytes())
    path.write_text(json.dumps({**fields, "version": 99}))
    return tmp_path


def test_every_photo_has_its_state_in_words(garden):
    entries = find_clumps([garden], None)
    assert [entry.photo_path.name for entry in entries] == [f"{n}.png" for n in "abcd"]
    assert [entry.words for entry in entries] == [
        "waiting",
        "open, 5 to answer",
        "done",
        "refused",
    ]
    assert "newer eyefind" in entries[3].message


def test_a_photo_named_twice_is_one_clump(garden):
    paths = [garden / "b.png", garden, garden / "b.eyefind.json"]
    names = [entry.photo_path.name for entry in find_clumps(paths, None)]
    assert sorted(names) == [f"{name}.png" for name in "abcd"]


def test_a_damaged_record_is_looked_at_anew(garden):
    (garden / "b.eyefind.json").write_text("{")
    states = [entry.state for entry in find_clumps([garden / "b.png"], None)]
    assert states == ["waiting"]


def test_a_record_without_its_photo_says_what_to_do(garden):
    (garden / "b.png").unlink()
    with pytest.raises(PhotoError, match=r"b\.png of the record") as caught:
        find_clumps([garden / "b.eyefind.json"], None)
    assert "Name the photo instead" in caught.value.advice


def test_an_answer_taken_back_opens_the_clump_again(garden):
    entry = Entry(garden / "c.png")
    said = [decision(flag.id, "rejected") for flag in painted_record().flags]
    entry.take(replace(painted_record(), decisions=said))
    assert (entry.state, entry.left) == ("done", 0)
    entry.take(replace(painted_record(), decisions=[*said, decision("", "undo")]))
    assert (entry.state, entry.left) == ("open", 1)


def test_what_goes_wrong_inside_is_told_too(garden):
    entry = Entry(garden / "a.png")
    entry.refuse(ValueError("odd"))
    assert entry.words == "refused"
    assert "ValueError('odd')" in entry.message
    entry.take(painted_record())
    assert entry.message == ""


def test_records_of_one_folder_name_it(tmp_path):
    one, two = tmp_path / "x" / "a.eyefind.json", tmp_path / "y" / "b.eyefind.json"
    assert folder_of_records([one, tmp_path / "c.png"]) == one.parent
    assert folder_of_records([one, two]) is None
    assert folder_of_records([]) is None


def test_a_clump_without_flags_is_not_called_done(garden):
    """No eye seen is never no eye."""
    write_record(replace(painted_record("a.png"), flags=[]), garden / "a.eyefind.json")
    entry = find_clumps([garden], None)[0]
    assert entry.words == "nothing flagged: look for yourself"
    record = replace(
        painted_record("a.png"), flags=[], decisions=[decision("E9", "undo")]
    )
    entry.take(record)
    assert entry.words == "done"
