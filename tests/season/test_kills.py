"""kill -9 at random moments: in the ledger, and while photos are taken and answered."""

import sys
from pathlib import Path
from random import Random
from shutil import copy

import pytest
from killed import keep_gardens, killed_at_random, take_photos
from standins import painted_photo

from eyefind.record import read_record
from eyefind.season.garden import start_season
from eyefind.season.ledger import Ledger
from eyefind.season.tables import ClumpPhoto

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")


COUNTED = ("garden", "season", "deed")


def count(ledger, table):
    return ledger.ask(f"SELECT count(*) FROM {table}")[0][0]


def test_the_ledger_loses_nothing_in_200_kills(tmp_path):
    path = tmp_path / "l.db"
    Ledger(path).close()
    chance, said, interrupted, kills = Random(6), 0, 0, 0
    # The kills must fall while it works: a busy machine is given more, and later ones.
    while kills < 200 or interrupted <= 50:
        most_s = 0.04 * (1 + kills // 200)
        told = killed_at_random(keep_gardens, (path,), most_s, chance)
        kills += 1
        said = max([said, *told])
        with Ledger(path) as ledger:
            gardens, seasons, deeds = (count(ledger, name) for name in COUNTED)
            # All that was told is there, and no deed is there by half.
            assert gardens >= said
            assert gardens == seasons == deeds
            interrupted += bool(told)
            said = gardens
    with Ledger(path) as ledger:
        assert ledger.faults() == []


@pytest.mark.parametrize("kills", [15, pytest.param(200, marks=pytest.mark.slow)])
def test_photos_and_answers_survive(tmp_path, kills):
    photos = tmp_path / "photos"
    photos.mkdir()
    picture = painted_photo(tmp_path / "painted.png")
    path = tmp_path / "l.db"
    with Ledger(path) as ledger:
        start_season(ledger, "Quillfold", 2026)
    chance, answered, number = Random(7), set(), 0
    # A busy machine gets less done before each kill: it is given more kills, and later.
    while number < kills or len(answered) <= kills / 4:
        copy(picture, photos / f"IMG_{number:04d}.png")
        most_s = 0.8 * (1 + number // kills)
        told = killed_at_random(take_photos, (path, photos), most_s, chance)
        number += 1
        answered |= {name for what, name in told if what == "answered"}
        with Ledger(path) as ledger:
            assert ledger.faults() == []
            kept = {Path(row.path).name: row for row in ledger.rows(ClumpPhoto)}
        assert {name for what, name in told if what == "taken"} <= set(kept)
        assert not any(row.failed for row in kept.values())
    for name in answered:
        record = read_record((photos / name).with_suffix(".eyefind.json"))
        assert [word.says for word in record.decisions] == ["confirmed"]
        assert record.plan is None or not record.plan.reviewed
