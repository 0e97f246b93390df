"""Nothing typed is lost: undo, drafts, several windows, old versions."""

import sqlite3
import threading
from contextlib import closing
from time import perf_counter

import pytest
from large_ledger import write_large_ledger

from eyefind.errors import UsageError
from eyefind.season import ledger as ledger_module
from eyefind.season.counts import count_varieties
from eyefind.season.garden import find_season
from eyefind.season.ledger import VERSION, Ledger
from eyefind.season.progress import take_again, waiting
from eyefind.season.spring import own_accuracy, wake_first
from eyefind.season.tables import TABLES, Clump, Garden, Season, Variety
from eyefind.season.trouble import LedgerError
from eyefind.season.winter import losses


def test_the_columns_are_those_of_the_dataclasses(ledger):
    for kind, name in TABLES.items():
        columns = {row["name"] for row in ledger.ask(f"PRAGMA table_info({name})")}
        assert columns == set(kind.__dataclass_fields__)


def test_undo_and_redo_go_through_every_deed(ledger):
    with ledger.deed("garden") as deed:
        garden = deed.add(Garden(name="Quillfold"))
    with ledger.deed("note") as deed:
        deed.change(garden, note="windy")
    with ledger.deed("bin") as deed:
        deed.bin(garden)
    assert ledger.rows(Garden) == []
    assert ledger.undo() == "bin"
    assert [g.note for g in ledger.rows(Garden)] == ["windy"]
    assert [ledger.undo(), ledger.undo(), ledger.undo()] == ["note", "garden", None]
    assert ledger.rows(Garden) == []
    assert [ledger.redo(), ledger.redo()] == ["garden", "note"]
    assert [g.note for g in ledger.rows(Garden)] == ["windy"]


def test_a_new_deed_ends_what_could_be_brought_back(ledger):
    with ledger.deed("one") as deed:
        deed.add(Garden(name="one"))
    ledger.undo()
    with ledger.deed("two") as deed:
        deed.add(Garden(name="two"))
    assert ledger.redo() is None
    assert [g.name for g in ledger.rows(Garden)] == ["two"]


def test_undo_leaves_what_was_refreshed_since(ledger):
    with ledger.deed("start") as deed:
        garden = deed.add(Garden(name="Quillfold"))
        season = deed.add(Season(garden_id=garden.id, year=2026))
        clump = deed.add(Clump(season_id=season.id, name="c"))
    with ledger.deed("bed") as deed:
        deed.change(clump, bed="3")
    with ledger.refreshing() as deed:
        deed.change(clump, code="EYE-0003")
    ledger.undo()
    assert ledger.row(Clump, clump.id).code == "EYE-0003"
    assert ledger.row(Clump, clump.id).bed == ""


def test_a_deed_that_fails_leaves_everything_as_it_was(ledger):
    with ledger.deed("garden") as deed:
        garden = deed.add(Garden(name="Quillfold"))

    def two():
        with ledger.deed("two") as deed:
            deed.change(garden, note="lost?")
            deed.add(Garden(name="Quillfold"))

    with pytest.raises(UsageError, match="garden name already"):
        two()
    assert ledger.rows(Garden) == [garden]
    assert ledger.deeds(9)[0][1] == "garden"


def test_drafts_stay_until_they_are_said(ledger, tmp_path):
    ledger.keep_draft("note of 17", "half a sen")
    with Ledger(ledger.path) as other:
        assert other.draft("note of 17") == "half a sen"
        other.keep_draft("note of 17", "")
    assert ledger.draft("note of 17") == ""


def test_a_newer_ledger_is_left_alone(tmp_path):
    path = tmp_path / "l.db"
    Ledger(path).close()
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {VERSION + 1}")
    before = path.read_bytes()
    with pytest.raises(LedgerError, match="newer eyefind"):
        Ledger(path)
    assert path.read_bytes() == before


def test_a_foreign_file_is_left_alone(tmp_path):
    path = tmp_path / "l.db"
    with closing(sqlite3.connect(path)) as db:
        db.execute("CREATE TABLE other (x)")
    with pytest.raises(LedgerError, match="no ledger of eyefind"):
        Ledger(path)
    path.write_bytes(b"no database at all, but long enough to be looked at" * 50)
    with pytest.raises(LedgerError, match="season rebuild"):
        Ledger(path)


def test_an_older_ledger_is_copied_then_migrated(tmp_path, monkeypatch):
    path = tmp_path / "l.db"
    with Ledger(path) as old, old.deed("garden") as deed:
        deed.add(Garden(name="Quillfold"))
    newer = (*ledger_module.VERSIONS, "ALTER TABLE garden ADD COLUMN wind TEXT;\n")
    monkeypatch.setattr(ledger_module, "VERSIONS", newer)
    monkeypatch.setattr(ledger_module, "VERSION", VERSION + 1)
    with Ledger(path) as new:
        assert [row["wind"] for row in new.ask("SELECT wind FROM garden")] == [None]
    monkeypatch.undo()
    with Ledger(tmp_path / f"l.db.version-{VERSION}") as copy:
        assert [g.name for g in copy.rows(Garden)] == ["Quillfold"]


def test_a_backup_is_whole_while_another_window_writes(ledger, tmp_path):
    stop = threading.Event()

    def write():
        with Ledger(ledger.path) as other:
            number = 0
            while not stop.is_set():
                with other.deed(str(number)) as deed:
                    garden = deed.add(Garden(name=f"g{number}"))
                    deed.add(Season(garden_id=garden.id, year=2026))
                number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(5):
            ledger.backup(tmp_path / f"copy-{number}.db")
            with Ledger(tmp_path / f"copy-{number}.db") as copy:
                assert copy.faults() == []
                assert len(copy.rows(Garden)) == len(copy.rows(Season))
    finally:
        stop.set()
        writer.join()


def test_two_windows_lose_no_word(ledger):
    with ledger.deed("garden") as deed:
        garden = deed.add(Garden(name="Quillfold"))

    def type_names(window):
        with Ledger(ledger.path) as own:
            for number in range(40):
                with own.deed("variety") as deed:
                    deed.add(Variety(garden_id=garden.id, name=f"{window}-{number}"))

    windows = [threading.Thread(target=type_names, args=(n,)) for n in range(3)]
    for window in windows:
        window.start()
    for window in windows:
        window.join()
    assert len({v.name for v in ledger.rows(Variety)}) == 120
    assert ledger.faults() == []


def test_twenty_seasons_open_and_answer_within_200_ms(tmp_path, rules):
    path = tmp_path / "large.db"
    write_large_ledger(path)

    def seconds(ask):
        start = perf_counter()
        with Ledger(path) as large:
            ask(large, find_season(large))
        return perf_counter() - start

    for ask in (
        waiting,
        take_again,
        wake_first,
        lambda large, season: count_varieties(large, season, rules),
        lambda large, season: losses(large, season, "variety"),
        lambda large, season: own_accuracy(large, season, "light"),
    ):
        # The best of five: other programs may want the machine too.
        assert min(seconds(ask) for _ in range(5)) < 0.2
