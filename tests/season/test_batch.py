"""A folder of photos: all cores, kills, faults, groups, corrections."""

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from PIL import Image
from records import the_painted_clump

from eyefind.record import read_record
from eyefind.season.batch import Looked, enter, new_photos, waiting_photos
from eyefind.season.binding import refresh
from eyefind.season.garden import find_clump, find_photo, start_season
from eyefind.season.grouping import Seen, group_photos
from eyefind.season.ledger import Ledger
from eyefind.season.placing import move_photo
from eyefind.season.progress import take_again
from eyefind.season.tables import Clump, ClumpPhoto, StoredPiece

BATCH = """
import sys
from pathlib import Path
from eyefind.rules import load_rules
from eyefind.season.batch import look_at_all, waiting_photos
from eyefind.season.garden import find_season
from eyefind.season.ledger import Ledger
from eyefind.season.placing import place_new

if __name__ == "__main__":
    rules = load_rules()
    with Ledger(Path(sys.argv[1])) as ledger:
        season = find_season(ledger)
        waiting = waiting_photos(ledger, season, Path(sys.argv[2]))
        for looked in look_at_all(ledger, season, waiting, rules, 2):
            print(looked.path.name, looked.why, flush=True)
        place_new(ledger, season, rules)
"""


def test_a_batch_goes_on_after_each_kill(tmp_path):
    photos = tmp_path / "photos"
    photos.mkdir()
    picture = Image.fromarray(the_painted_clump().rgb).resize((500, 500))
    for number in range(6):
        picture.save(photos / f"IMG_{number}.jpg", quality=80 + number)
    (photos / "IMG_9.jpg").write_bytes(b"no picture")
    script = tmp_path / "batch.py"
    script.write_text(BATCH)
    path = tmp_path / "l.db"
    with Ledger(path) as ledger:
        season = start_season(ledger, "Quillfold", 2026)
    command = [sys.executable, str(script), str(path), str(photos)]
    chance = random.Random(3)
    for _ in range(4):
        batch = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        time.sleep(chance.uniform(1.0, 5.0))
        batch.kill()
        batch.wait()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    with Ledger(path) as ledger:
        assert ledger.faults() == []
        rows = ledger.rows(ClumpPhoto)
        assert [bool(row.failed) for row in sorted(rows, key=lambda r: r.path)] == (
            [False] * 6 + [True]
        )
        assert all(row.clump_id for row in rows if not row.failed)
        left = [p.name for p in waiting_photos(ledger, season, photos)]
        assert left == ["IMG_9.jpg"]
    for number in range(6):
        assert read_record(photos / f"IMG_{number}.eyefind.json").plan is not None


def test_watching_brings_new_photos_and_no_failed_one_twice(
    ledger, tmp_path, monkeypatch
):
    monkeypatch.setattr("eyefind.season.batch.LOOK_EVERY_S", 0.0)
    season = start_season(ledger, "Quillfold", 2026)
    watched = new_photos(ledger, season, tmp_path / "come")
    (tmp_path / "come").mkdir()
    assert next(watched) == []
    photo = tmp_path / "come" / "a.jpg"
    photo.write_bytes(b"half")
    assert next(watched) == []  # may still be on its way
    import os

    os.utime(photo, (1e9, 1e9))
    assert next(watched) == [photo]
    enter(ledger, season, Looked(photo, None, "no picture"))
    assert next(watched) == []
    assert [item.why for item in take_again(ledger, season)] == ["no picture"]


def seen(name, second=None, code=None):
    at = (
        None
        if second is None
        else f"2026-11-07T09:{second // 60:02d}:{second % 60:02d}"
    )
    return Seen(f"/photos/{name}.jpg", at, code)


def names(photos, gap_s=90.0):
    return [
        (group.name, [photo.stem for photo, _ in group.photos])
        for group in group_photos(photos, gap_s)
    ]


def test_the_code_groups_wherever_photos_lie_in_time():
    photos = [
        seen("IMG_1", 0, "EYE-0001"),
        seen("IMG_2", 10, "EYE-0002"),
        seen("IMG_3", 3000, "EYE-0001"),
    ]
    assert names(photos) == [
        ("EYE-0001", ["IMG_1", "IMG_3"]),
        ("EYE-0002", ["IMG_2"]),
    ]


def test_without_a_code_time_groups_and_a_gap_parts():
    photos = [seen("IMG_1", 0, "EYE-0001"), seen("IMG_2", 80), seen("IMG_3", 171)]
    assert names(photos) == [("EYE-0001", ["IMG_1", "IMG_2"]), ("IMG_3", ["IMG_3"])]


def test_names_that_the_grower_gave_group_and_those_of_a_phone_do_not():
    photos = [
        seen("bed1-moth-1"),
        seen("bed1-moth-2"),
        seen("IMG_0301"),
        seen("IMG_0302"),
    ]
    assert names(photos) == [
        ("IMG_0301", ["IMG_0301"]),
        ("IMG_0302", ["IMG_0302"]),
        ("bed1-moth", ["bed1-moth-1", "bed1-moth-2"]),
    ]


def test_the_demo_photos_find_their_clumps(ledger, season):
    clump = find_clump(ledger, season, "2")
    photos = ledger.rows(ClumpPhoto, "clump_id = ?", clump.id)
    assert [Path(p.path).stem for p in photos] == ["IMG_0302", "IMG_0303"]
    assert {p.placed_by for p in photos} == {"code"}


def test_a_correction_stays_and_can_be_taken_back(ledger, season, rules):
    photo = find_photo(ledger, season, "IMG_0332")
    lone = ledger.row(Clump, photo.clump_id)
    goal = find_clump(ledger, season, "30")
    move_photo(ledger, photo, goal, rules)
    assert find_photo(ledger, season, "IMG_0332").clump_id == goal.id
    assert ledger.rows(StoredPiece, "clump_id = ?", goal.id)
    assert ledger.row(Clump, lone.id).binned_at is not None
    ledger.undo()
    assert find_photo(ledger, season, "IMG_0332").clump_id == lone.id
    assert ledger.row(Clump, lone.id).binned_at is None


def test_an_answer_in_the_record_reaches_the_ledger(ledger, season, records, rules):
    from eyefind.review import Review, flags_in_force

    path = next(p for p in records if p.name.startswith("IMG_0301"))
    review = Review(path)
    waiting = len(review.undecided)
    assert waiting > 0
    review.say(review.undecided[0].id, "not_sure", "Ida")
    refresh(ledger, season, rules)
    photo = find_photo(ledger, season, "IMG_0301")
    assert photo.unanswered == waiting - 1
    assert len(flags_in_force(review.record.flags, review.record.decisions)) >= waiting


def test_a_lost_record_is_told_and_a_clump_that_was_cut_keeps_its_pieces(
    ledger, season, records, rules
):
    from eyefind.season.garden import set_clumps

    (clump,) = set_clumps(ledger, season, ["3"], {"cut_on": "2026-11-08"}, rules)
    before = ledger.rows(StoredPiece, "clump_id = ?", clump.id)
    next(p for p in records if p.name.startswith("IMG_0304")).unlink()
    refresh(ledger, season, rules)
    assert ledger.rows(StoredPiece, "clump_id = ?", clump.id) == before
    assert "IMG_0304" in [Path(item.photo).stem for item in take_again(ledger, season)]


@pytest.mark.parametrize("number", ["11", "23"])
def test_spoilt_photos_of_the_demo_are_to_be_taken_again(ledger, season, number):
    stems = [Path(item.photo).stem for item in take_again(ledger, season)]
    assert {"11": "IMG_0312", "23": "IMG_0325"}[number] in stems
