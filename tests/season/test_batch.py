"""A folder of photos on all cores: kills, faults, watching."""

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from lamp_sets import painted_under
from photo.files import exif_bytes
from PIL import Image
from records import the_painted_clump
from standins import install

from eyefind.errors import EyefindError, PhotoError
from eyefind.photo import PhotoSet
from eyefind.record import read_record
from eyefind.rules import load_rules
from eyefind.season import batch
from eyefind.season.batch import (
    Looked,
    enter,
    look_at,
    look_at_all,
    new_photos,
    waiting_photos,
)
from eyefind.season.garden import start_season
from eyefind.season.ledger import Ledger
from eyefind.season.progress import take_again
from eyefind.season.tables import ClumpPhoto

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
        waiting = waiting_photos(ledger, season, Path(sys.argv[2]), rules)
        for looked in look_at_all(ledger, season, waiting, rules, 2):
            print(looked.path.name, looked.why, flush=True)
        place_new(ledger, season, rules)
"""


def small_photo(path, quality=80):
    Image.fromarray(the_painted_clump().rgb).resize((500, 500)).save(
        path, "JPEG", quality=quality
    )
    return path


@pytest.mark.parametrize("kills", [2, pytest.param(200, marks=pytest.mark.slow)])
@pytest.mark.timeout(1500)
def test_a_batch_on_two_cores_goes_on_after_each_kill(tmp_path, kills):
    photos = tmp_path / "photos"
    photos.mkdir()
    for number in range(count := 3 + kills // 4):
        small_photo(photos / f"IMG_{number:03d}.jpg", 60 + number % 40)
    (photos / "IMG_999.jpg").write_bytes(b"no picture")
    script = tmp_path / "batch.py"
    script.write_text(BATCH)
    path = tmp_path / "l.db"
    with Ledger(path) as ledger:
        season = start_season(ledger, "Quillfold", 2026)
    command = [sys.executable, str(script), str(path), str(photos)]
    chance = random.Random(3)
    for _ in range(kills):
        run = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        time.sleep(chance.uniform(1.0, 4.0))
        run.kill()
        run.wait()
        with Ledger(path) as ledger:
            assert ledger.faults() == []
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    with Ledger(path) as ledger:
        rows = sorted(ledger.rows(ClumpPhoto), key=lambda row: row.path)
        assert [bool(row.failed) for row in rows] == [False] * count + [True]
        assert all(row.clump_id for row in rows if not row.failed)
        left = [
            one.main.name
            for one in waiting_photos(ledger, season, photos, load_rules())
        ]
        assert left == ["IMG_999.jpg"]
    for number in range(count):
        assert read_record(photos / f"IMG_{number:03d}.eyefind.json").plan is not None


def test_a_photo_that_cannot_be_used_stops_no_other(ledger, season, rules, tmp_path):
    bad = tmp_path / "bad.jpg"
    bad.write_bytes(b"no picture")
    enter(ledger, season, look_at(PhotoSet(bad), rules))
    (again,) = take_again(ledger, season)
    assert again.photo == str(bad)
    assert "bad.jpg" in again.why
    # Once it is mended the old complaint is gone.
    small_photo(bad)
    assert waiting_photos(ledger, season, tmp_path, rules) == [PhotoSet(bad)]


def test_a_fault_of_our_own_is_told_and_stops_no_other(rules, monkeypatch, tmp_path):
    def fail(*_):
        raise ZeroDivisionError("by nought")

    monkeypatch.setattr(batch.Job, "plan", fail)
    looked = look_at(PhotoSet(tmp_path / "a.jpg"), rules)
    assert looked.reading is None
    assert "by nought" in looked.why


def test_a_worker_that_the_system_ends_is_told(
    ledger, season, rules, tmp_path, monkeypatch
):
    class OnePool:
        """A pool whose worker was ended."""

        def __init__(self, *_args, **_more):
            self.done = False

        def submit(self, *_):
            raise batch.BrokenProcessPool("ended")

        def shutdown(self, **_):
            self.done = True

    monkeypatch.setattr(batch, "ProcessPoolExecutor", OnePool)
    with pytest.raises(EyefindError, match="ended a worker"):
        list(look_at_all(ledger, season, [PhotoSet(tmp_path / "a.jpg")], rules, 1))


def test_only_new_photos_wait(ledger, season, rules, tmp_path):
    folder = tmp_path / "photos"
    with pytest.raises(PhotoError, match="no folder"):
        waiting_photos(ledger, season, folder, rules)
    folder.mkdir()
    with pytest.raises(PhotoError, match="no photo"):
        waiting_photos(ledger, season, folder, rules)
    known = small_photo(folder / "b.jpg")
    new, old = PhotoSet(small_photo(folder / "a.jpg")), PhotoSet(known)
    assert waiting_photos(ledger, season, folder, rules) == [new, old]
    record = folder / "b.eyefind.json"
    record.write_text("the ledger trusts that it is there")
    with ledger.deed("known") as deed:
        row = ClumpPhoto(season_id=season.id, path=str(known), record_path=str(record))
        deed.add(row)
    assert waiting_photos(ledger, season, folder, rules) == [new]
    record.unlink()
    assert waiting_photos(ledger, season, folder, rules) == [new, old]


def test_watching_brings_new_photos_and_no_failed_one_twice(
    ledger, season, rules, tmp_path, monkeypatch
):
    monkeypatch.setattr("eyefind.season.batch.LOOK_EVERY_S", 0.0)
    watched = new_photos(ledger, season, tmp_path / "come", rules)
    (tmp_path / "come").mkdir()
    assert next(watched) == []
    photo = tmp_path / "come" / "a.jpg"
    photo.write_bytes(b"half")
    assert next(watched) == []  # may still be on its way
    os.utime(photo, (1e9, 1e9))
    assert next(watched) == [PhotoSet(photo)]
    enter(ledger, season, Looked(photo, None, "no picture"))
    assert next(watched) == []
    assert [item.why for item in take_again(ledger, season)] == ["no picture"]
    os.utime(photo, (1.1e9, 1.1e9))  # it came again
    assert next(watched) == [PhotoSet(photo)]


def test_a_frame_that_comes_late_joins_its_set(
    ledger, season, rules, tmp_path, monkeypatch
):
    """Known by time and view, as a phone names them; one record a set."""
    install(monkeypatch)
    monkeypatch.setattr("eyefind.season.batch.LOOK_EVERY_S", 0.0)
    frames = list(painted_under((80, 260, 300)).values())
    paths = [tmp_path / f"IMG_{number}.jpg" for number in range(len(frames))]

    def come(number):
        taken = exif_bytes(taken=f"2026:11:03 10:00:{10 * number:02d}")
        Image.fromarray(frames[number]).save(paths[number], quality=95, exif=taken)
        os.utime(paths[number], (1e9, 1e9))

    come(0)
    come(1)
    watched = new_photos(ledger, season, tmp_path, rules)
    (first,) = next(watched)
    assert first.photos == paths[:2]
    enter(ledger, season, look_at(first, rules))
    assert next(watched) == []
    assert waiting_photos(ledger, season, tmp_path, rules) == []
    come(2)
    (again,) = next(watched)
    assert again.photos == paths
    enter(ledger, season, look_at(again, rules))
    assert next(watched) == []
    (row,) = ledger.rows(ClumpPhoto)
    assert row.path == str(paths[0])
    named = [frame.photo.file for frame in read_record(Path(row.record_path)).frames]
    assert named == [path.name for path in paths[1:]]
