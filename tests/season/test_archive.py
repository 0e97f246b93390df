"""The season as one zip file and back: whole, or with words and nothing left behind."""

import json
import zipfile
from hashlib import sha256
from random import Random

import pytest

from eyefind.errors import EyefindError, RecordError, UsageError
from eyefind.season import archive
from eyefind.season.archive import LIST_NAME, ZIPPED_LEDGER, pack, unpack
from eyefind.season.garden import find_photo, find_season
from eyefind.season.health import disagreements
from eyefind.season.ledger import Ledger
from eyefind.season.tables import TABLES, ClumpPhoto

MOVED = ("path", "record_path", "record_seen")


def content(ledger):
    """Every row but for where files lie."""
    found = []
    for kind in TABLES:
        for row in ledger.rows(kind) + ledger.rows(kind, binned=True):
            values = dict(vars(row))
            for name in MOVED if kind is ClumpPhoto else ():
                values.pop(name)
            found.append((kind, values))
    return found


def test_a_season_comes_back_whole(demo, demo_season, tmp_path):
    photo = find_photo(demo, demo_season, "IMG_0301")
    (tmp_path / "demo" / "photos" / "1" / "IMG_0301.jpg").write_bytes(b"a photo")
    assert pack(demo, demo_season, tmp_path / "season.zip") == 44
    with Ledger(unpack(tmp_path / "season.zip", tmp_path / "back")) as back:
        assert content(back) == content(demo)
        assert disagreements(back) == []
        moved = find_photo(back, find_season(back), "IMG_0301")
        assert moved.path != photo.path
        with open(moved.path, "rb") as file:
            assert file.read() == b"a photo"
        assert str(tmp_path / "back") in moved.record_path


@pytest.mark.parametrize(
    ("path", "name"),
    [
        ("/home/jo/photos/bed 3 (2).jpg", "bed 3 (2).jpg"),
        ("/home/jo/a\\b.jpg", "a\\b.jpg"),
        ("C:\\Users\\Jo\\photos\\IMG_1.jpg", "IMG_1.jpg"),
        ("\\\\shed\\photos\\IMG_1.jpg", "IMG_1.jpg"),
    ],
)
def test_a_path_of_another_system_has_its_name(path, name):
    assert archive._name(path) == name


def test_without_photos_the_records_stay(demo, demo_season, tmp_path):
    (tmp_path / "demo" / "photos" / "1" / "IMG_0301.jpg").write_bytes(b"a photo")
    assert pack(demo, demo_season, tmp_path / "season.zip", photos=False) == 43
    names = zipfile.ZipFile(tmp_path / "season.zip").namelist()
    assert not any(name.endswith(".jpg") for name in names)


def test_nothing_is_ever_overwritten(demo, demo_season, tmp_path):
    pack(demo, demo_season, tmp_path / "season.zip")
    goal = tmp_path / "goal"
    goal.mkdir()
    (goal / "mine.txt").write_text("mine")
    with pytest.raises(UsageError, match="not empty"):
        unpack(tmp_path / "season.zip", goal)
    assert [path.name for path in goal.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize(
    "listed",
    [
        {"format": "another"},
        {"format": archive.FORMAT, "version": 99},
        {"format": archive.FORMAT, "version": 1, "sha256": {}},
        {"format": archive.FORMAT, "version": 1, "sha256": {ZIPPED_LEDGER: "00"}},
        [],
    ],
)
def test_what_is_no_season_is_refused(tmp_path, listed):
    with zipfile.ZipFile(tmp_path / "x.zip", "w") as file:
        file.writestr(ZIPPED_LEDGER, b"")
        file.writestr(LIST_NAME, json.dumps(listed))
    with pytest.raises(RecordError):
        unpack(tmp_path / "x.zip", tmp_path / "back")
    assert [path.name for path in tmp_path.iterdir()] == ["x.zip"]


@pytest.mark.parametrize("name", ["../out", "/out", "photos/../../out", "a\\..\\out"])
def test_nothing_is_written_outside(tmp_path, name):
    hashes = {ZIPPED_LEDGER: sha256(b"").hexdigest(), name: sha256(b"x").hexdigest()}
    with zipfile.ZipFile(tmp_path / "x.zip", "w") as file:
        file.writestr(ZIPPED_LEDGER, b"")
        file.writestr(name, b"x")
        head = {"format": archive.FORMAT, "version": 1, "sha256": hashes}
        file.writestr(LIST_NAME, json.dumps(head))
    with pytest.raises(RecordError, match="outside"):
        unpack(tmp_path / "x.zip", tmp_path / "deep" / "back")
    assert not (tmp_path / "out").exists()
    assert not (tmp_path / "deep" / "back").exists()


def test_damaged_zips_come_back_whole_or_not_at_all(demo, demo_season, tmp_path):
    path = tmp_path / "season.zip"
    pack(demo, demo_season, path)
    sound, before = path.read_bytes(), content(demo)
    chance, refused = Random(9), 0
    for number in range(40):
        data = bytearray(sound)
        if number % 4 == 0:
            del data[chance.randrange(len(data)) :]
        else:
            place = chance.randrange(len(data))
            data[place] ^= chance.randrange(1, 256)
        path.write_bytes(data)
        goal = tmp_path / f"back-{number}"
        try:
            ledger_path = unpack(path, goal)
        except EyefindError:
            refused += 1
            assert not goal.exists()
        else:
            with Ledger(ledger_path) as back:
                assert content(back) == before
    assert refused > 30
    assert not list(tmp_path.glob(".*"))
