"""A disk without room: what was there stays, and it is told."""

from contextlib import contextmanager

import pytest

from eyefind.errors import WriteError
from eyefind.season.archive import pack, unpack
from eyefind.season.exchange import write_csv, write_spreadsheet
from eyefind.season.garden import set_wish
from eyefind.season.ledger import Ledger
from eyefind.season.tables import Garden, Variety

resource = pytest.importorskip("resource", reason="no file limits on this system")


@contextmanager
def room_for(size: int):
    """No file may grow beyond `size` bytes: the system refuses as a full disk does."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_full_disk_loses_no_word_of_the_ledger(ledger, season):
    kept = 0

    def type_on():
        nonlocal kept
        for number in range(1000):
            set_wish(ledger, season, f"V{number}", wanted=1, note="x" * 2000)
            kept += 1

    with room_for(1_000_000), pytest.raises(WriteError, match="cannot be used"):
        type_on()
    assert 0 < kept < 1000
    assert len(ledger.rows(Variety)) == kept
    assert ledger.faults() == []
    with Ledger(ledger.path) as other:
        assert len(other.rows(Variety)) == kept
    set_wish(ledger, season, "room again", wanted=1)
    assert len(ledger.rows(Variety)) == kept + 1


def test_sqlites_own_word_for_it_is_told(ledger):
    with ledger.deed("garden") as deed:
        deed.add(Garden(name="Quillfold"))
    # SQLite then answers as it does when the disk is full (SQLITE_FULL).
    ledger._db.execute("PRAGMA max_page_count = 1")
    with pytest.raises(WriteError, match="full"), ledger.deed("too much") as deed:
        deed.change(ledger.rows(Garden)[0], note="x" * 100_000)
    ledger._db.execute("PRAGMA max_page_count = 1000000")
    assert [(g.name, g.note) for g in ledger.rows(Garden)] == [("Quillfold", "")]
    assert ledger.faults() == []


@pytest.mark.parametrize(
    ("name", "write"),
    [
        ("copy.db", lambda ledger, season, path: ledger.backup(path)),
        ("season.zip", pack),
        ("tables.xlsx", lambda ledger, season, path: write_spreadsheet(ledger, path)),
        ("piece.csv", lambda ledger, season, path: write_csv(ledger, path.parent)),
    ],
)
def test_an_older_copy_stays(demo, demo_season, tmp_path, name, write):
    path = tmp_path / "out" / name
    path.parent.mkdir()
    write(demo, demo_season, path)
    before = path.read_bytes()
    with room_for(2000), pytest.raises(WriteError):
        write(demo, demo_season, path)
    assert path.read_bytes() == before
    assert not list(path.parent.glob(".*"))


def test_a_season_that_finds_no_room_leaves_nothing_behind(demo, demo_season, tmp_path):
    pack(demo, demo_season, tmp_path / "season.zip")
    with room_for(20_000), pytest.raises(WriteError, match="brought back"):
        unpack(tmp_path / "season.zip", tmp_path / "back")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["demo", "season.zip"]
