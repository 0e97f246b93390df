"""Records come back as they were written, and nothing on disk is ever lost."""

import errno
import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from records import SHA, assert_alike, decision, painted_record, records

from eyefind.data import Plan
from eyefind.errors import PhotoError, RecordError, WriteError
from eyefind.record import (
    DamagedRecordError,
    add_decisions,
    check_same_photo,
    open_record,
    put_plan,
    read_record,
    record_path,
    write_record,
)
from eyefind.record.coding import VERSION
from eyefind.record.store import LONGEST_NAME

quick = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.too_slow,
    ],
)


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "clump 7.eyefind.json"
    write_record(painted_record(), path)
    return path


@quick
@given(record=records)
def test_any_record_comes_back(tmp_path, record):
    path = tmp_path / "any.eyefind.json"
    path.unlink(missing_ok=True)
    write_record(record, path)
    first = path.read_bytes()
    again = read_record(path)
    assert_alike(record, again)
    # A second writing changes nothing: rounding happens once.
    write_record(again, path)
    assert path.read_bytes() == first
    assert_alike(again, read_record(path), rounding=False)


def test_file_is_plain_json_in_the_published_words(path):
    fields = json.loads(path.read_text(encoding="utf-8"))
    assert (fields["format"], fields["version"]) == ("eyefind-record", VERSION)
    assert fields["photo"]["sha256"] == SHA
    assert fields["anatomy"]["tubers"][0]["neck_rc_px"] == pytest.approx(
        painted_record().anatomy.tubers[0].neck_rc_px, abs=0.05
    )
    # What the grower said comes before the bulk, so a cut file keeps it.
    order = list(fields)
    assert order.index("decisions") < order.index("flags") < order.index("anatomy")


def test_a_number_that_is_none_is_refused(path):
    before = path.read_bytes()
    record = painted_record()
    bad_place = replace(record.flags[0], row_px=float("nan"))
    bad_line = replace(record.flags[0], outline_px=np.array([[0.0, np.inf]]))
    for flag in (bad_place, bad_line):
        with pytest.raises(ValueError, match="finite"):
            write_record(replace(record, flags=[flag]), path)
    assert path.read_bytes() == before


def test_a_record_of_version_1_reads_on_and_is_of_this_one_once_answered(path):
    fields = json.loads(path.read_text()) | {"version": 1}
    path.write_text(json.dumps(fields))
    assert_alike(read_record(path), painted_record())
    add_decisions(open_record(path), [decision("E1", "confirmed")])
    assert json.loads(path.read_text())["version"] == VERSION


def test_newer_record_is_refused_and_left_alone(path):
    fields = json.loads(path.read_text()) | {"version": VERSION + 1}
    path.write_text(json.dumps(fields))
    before = path.read_bytes()
    with pytest.raises(RecordError, match=rf"newer eyefind.*version {VERSION + 1}"):
        read_record(path)
    with pytest.raises(RecordError, match="newer eyefind"):
        write_record(painted_record(), path)
    with pytest.raises(RecordError, match="newer eyefind"):
        add_decisions(open_record(path), [decision("E1", "confirmed")])
    assert path.read_bytes() == before


def test_unknown_fields_survive(path):
    fields = json.loads(path.read_text())
    fields["note"] = {"bed": "7b"}
    fields["flags"][0]["note"] = "by the label"
    path.write_text(json.dumps(fields))
    add_decisions(open_record(path), [decision("E1", "confirmed")])
    after = json.loads(path.read_text())
    assert after["note"] == {"bed": "7b"}
    assert after["flags"][0]["note"] == "by the label"
    # A whole new record keeps those of the top level only.
    write_record(read_record(path), path)
    after = json.loads(path.read_text())
    assert after["note"] == {"bed": "7b"}
    assert "note" not in after["flags"][0]


def test_record_of_another_picture_is_not_overwritten(path):
    with pytest.raises(RecordError, match="another picture"):
        write_record(painted_record(sha256="cd" * 32), path)
    assert read_record(path).photo.sha256 == SHA


def test_changed_photo_is_named_with_what_to_do(path):
    facts, photo = read_record(path).photo, path.with_name("clump 7.jpg")
    check_same_photo(facts, path, photo, SHA)
    with pytest.raises(RecordError, match=r"clump 7\.jpg.*changed.*answers are kept"):
        check_same_photo(facts, path, photo, "cd" * 32)


def test_the_longest_name_has_room_for_all_endings(tmp_path):
    photo = tmp_path / f"{'ü' * 98}.jpg"
    assert len(os.fsencode(photo.name)) == LONGEST_NAME
    photo.write_bytes(b"picture")
    path = record_path(photo)
    path.write_bytes(b"damaged")
    write_record(painted_record(), path)
    assert path.with_name(f"{path.name}.damaged-1").read_bytes() == b"damaged"
    assert read_record(path).photo.sha256 == SHA


@pytest.mark.parametrize("ending", [".jpg", ".p.jpg"])
def test_a_name_too_long_is_told_before_any_work(tmp_path, ending):
    photo = tmp_path / ("n" * 240 + ending)
    photo.write_bytes(b"picture")
    with pytest.raises(PhotoError, match=r"n\.\S*jpg is too long.*shorter name"):
        record_path(photo)


def test_decisions_given_meanwhile_are_not_overwritten(path):
    stale = read_record(path)
    add_decisions(open_record(path), [decision("E1", "rejected")])
    with pytest.raises(RecordError, match="in the meantime"):
        write_record(stale, path)
    plan = Plan("whole", False, [], [], [], [])
    with pytest.raises(RecordError, match="in the meantime"):
        put_plan(path, plan, stale.decisions)
    assert [word.says for word in read_record(path).decisions] == ["rejected"]


def test_a_new_decision_ends_the_stored_plan(path):
    plan = Plan("whole", False, [], [], [], ["NOT YET REVIEWED"])
    assert put_plan(path, plan, []).plan == plan
    assert read_record(path).plan.warnings == ["NOT YET REVIEWED"]
    assert add_decisions(open_record(path), [decision("E1", "confirmed")]).plan is None
    assert read_record(path).plan is None


def test_missing_record_says_how_to_make_one(tmp_path):
    with pytest.raises(RecordError, match="eyefind look"):
        read_record(tmp_path / "none.eyefind.json")


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{}",
        b"[1, 2]",
        b"null",
        b"\xff\xfe\x00",
        b'{"format": "eyefind-record", "version": "1"}',
        b'{"format": "eyefind-record", "version": 1}',
        b"[" * 100_000,
    ],
)
def test_damaged_record_is_named_and_set_aside_on_writing(tmp_path, content):
    path = tmp_path / "a.eyefind.json"
    path.write_bytes(content)
    with pytest.raises(DamagedRecordError, match="is damaged"):
        read_record(path)
    with pytest.raises(DamagedRecordError):
        add_decisions(open_record(path), [decision("E1", "confirmed")])
    assert path.read_bytes() == content
    write_record(painted_record(), path)
    assert read_record(path).photo.sha256 == SHA
    aside = tmp_path / "a.eyefind.json.damaged-1"
    assert aside.read_bytes() == content
    # A second damage gets its own number; the same one does not pile up.
    for other in (b"other", b"other", content):
        path.write_bytes(other)
        write_record(painted_record(), path)
    assert sorted(file.name for file in tmp_path.iterdir()) == [
        "a.eyefind.json",
        "a.eyefind.json.damaged-1",
        "a.eyefind.json.damaged-2",
    ]


def test_full_disk_keeps_the_old_record(path, monkeypatch):
    before = path.read_bytes()

    def full(_handle):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(WriteError, match=r"clump 7.*No space left.*unchanged"):
        add_decisions(open_record(path), [decision("E1", "confirmed")])
    assert path.read_bytes() == before
    assert [file.name for file in path.parent.iterdir()] == [path.name]


def test_truly_full_disk_keeps_the_old_record(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=96k", "tmpfs", str(disk)]
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        pytest.skip("a small disk can be made by root only")
    if subprocess.run(mount, capture_output=True).returncode != 0:
        pytest.skip("this system lets nobody make a small disk")
    try:
        path = disk / "a.eyefind.json"
        write_record(painted_record(), path)
        words = 0

        def fill_the_disk():
            nonlocal words
            while words < 10_000:
                add_decisions(open_record(path), [decision("E1", "confirmed")])
                words += 1

        with pytest.raises(WriteError, match="No space left"):
            fill_the_disk()
        assert words > 0
        assert len(read_record(path).decisions) == words
        assert [file.name for file in disk.iterdir()] == [path.name]
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_read_only_folder_is_named(path, monkeypatch):
    open_file = Path.open

    def refused(self, mode="r", *args, **kwargs):
        if "w" in mode:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(self))
        return open_file(self, mode, *args, **kwargs)

    monkeypatch.setattr(Path, "open", refused)
    with pytest.raises(WriteError, match=r"cannot be written.*--out"):
        add_decisions(open_record(path), [decision("E1", "confirmed")])


def test_a_file_in_place_of_the_folder_is_named(tmp_path):
    (tmp_path / "out").write_text("not a folder")
    with pytest.raises(WriteError, match="cannot be written"):
        write_record(painted_record(), tmp_path / "out" / "a.eyefind.json")


def test_two_programs_lose_no_word(path):
    """Four processes say 20 words each on one record, all at once."""
    code = (
        "import sys; from pathlib import Path; from eyefind.review import Review\n"
        "review = Review(Path(sys.argv[1]))\n"
        "for _ in range(20): review.say('E1', 'confirmed', sys.argv[2])\n"
    )
    running = [
        subprocess.Popen([sys.executable, "-c", code, str(path), f"hand {n}"])
        for n in range(4)
    ]
    assert [process.wait() for process in running] == [0] * 4
    names = [word.by for word in read_record(path).decisions]
    assert {name: names.count(name) for name in names} == {
        f"hand {n}": 20 for n in range(4)
    }


class TestRecordPath:
    def test_beside_the_photo_or_in_out(self, tmp_path):
        photo = tmp_path / "Bl\u00fcte 7. Reihe.JPG"
        assert record_path(photo) == tmp_path / "Bl\u00fcte 7. Reihe.eyefind.json"
        out = tmp_path / "out"
        assert record_path(photo, out) == out / "Bl\u00fcte 7. Reihe.eyefind.json"

    def test_same_name_with_another_ending_does_not_collide(self, tmp_path):
        first, second = tmp_path / "IMG_7.jpg", tmp_path / "IMG_7.heic"
        first.write_bytes(b"1")
        second.write_bytes(b"2")
        write_record(painted_record("IMG_7.jpg"), record_path(first))
        assert record_path(first).name == "IMG_7.eyefind.json"
        assert record_path(second).name == "IMG_7.heic.eyefind.json"
        write_record(painted_record("IMG_7.heic", "cd" * 32), record_path(second))
        # Each keeps its record, whatever becomes of the other.
        record_path(first).unlink()
        assert record_path(second).name == "IMG_7.heic.eyefind.json"
        assert record_path(first).name == "IMG_7.eyefind.json"

    def test_renamed_photo_finds_its_renamed_record(self, tmp_path):
        from hashlib import sha256

        photo = tmp_path / "bed 3.jpg"
        photo.write_bytes(b"pixels")
        path = tmp_path / "bed 3.eyefind.json"
        record = painted_record("IMG_7.jpg", sha256(b"pixels").hexdigest())
        write_record(record, path)
        assert record_path(photo) == path

    def test_composed_and_decomposed_umlauts_are_one_name(self, tmp_path):
        photo = tmp_path / "Blu\u0308te.jpg"
        path = tmp_path / "Blu\u0308te.eyefind.json"
        write_record(painted_record("Bl\u00fcte.jpg"), path)
        assert record_path(photo) == path

    @pytest.mark.parametrize("keep", [0, 150, 2000])
    def test_damaged_record_still_belongs(self, tmp_path, keep):
        photo = tmp_path / "IMG_7.jpg"
        path = record_path(photo)
        write_record(painted_record("IMG_7.jpg"), path)
        path.write_bytes(path.read_bytes()[:keep])
        assert record_path(photo) == path
