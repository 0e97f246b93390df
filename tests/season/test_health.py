"""The ledger against its records, and built again from what is left."""

from random import Random

import pytest

from eyefind.errors import UsageError
from eyefind.season.binding import refresh
from eyefind.season.garden import find_season
from eyefind.season.health import disagreements, rebuild
from eyefind.season.ledger import Ledger
from eyefind.season.tables import (
    TABLES,
    Clump,
    ClumpPhoto,
    StoreCheck,
    StoredPiece,
    Variety,
    Wish,
)
from eyefind.season.trouble import LedgerError


@pytest.fixture
def photos(demo_path):
    return demo_path.parent / "photos"


def everything(ledger):
    return {kind: ledger.rows(kind) for kind in TABLES}


def pieces_by_name(ledger):
    query = "SELECT clump, letter, eyes, eye_chance, volume_ml FROM piece_seen"
    return sorted(tuple(row) for row in ledger.ask(query))


def test_a_sound_ledger_agrees_with_its_records(demo):
    assert disagreements(demo) == []


def test_changed_and_lost_records_are_told(demo, photos):
    (photos / "1" / "IMG_0301.eyefind.json").unlink()
    with (photos / "2" / "IMG_0302.eyefind.json").open("a") as file:
        file.write("\n")
    gone, changed = disagreements(demo)
    assert "IMG_0301" in gone
    assert "is gone" in gone
    assert "IMG_0302" in changed
    assert "changed since" in changed


def test_a_row_that_refers_to_nothing_is_told(demo):
    demo._db.execute("PRAGMA foreign_keys = OFF")
    demo._db.execute("UPDATE piece SET clump_id = 9999 WHERE id = 1")
    (fault,) = disagreements(demo)
    assert "piece" in fault
    assert "clump" in fault


def test_without_a_ledger_the_records_give_their_clumps_back(
    demo, demo_path, photos, rules, quick_ways
):
    clumps = {c.name: c for c in demo.rows(Clump)}
    names = {v.id: v.name for v in demo.rows(Variety)}
    pieces = pieces_by_name(demo)
    photo_count = len(demo.rows(ClumpPhoto))
    demo.close()
    for path in demo_path.parent.glob(f"{demo_path.name}*"):
        path.unlink()
    assert not demo_path.exists()
    new, lost = rebuild(demo_path, [photos], rules, "spare", 1999)
    with new:
        assert lost == []
        season = find_season(new)
        assert season.year == 2026
        again = {c.name: c for c in new.rows(Clump)}
        new_names = {v.id: v.name for v in new.rows(Variety)}
        assert set(again) == set(clumps)
        for name, clump in clumps.items():
            other = again[name]
            for field in ("code", "bed", "place", "light", "lifted_on", "cut_on"):
                assert getattr(other, field) == getattr(clump, field)
            assert new_names[other.variety_id] == names[clump.variety_id]
        assert len(new.rows(ClumpPhoto)) == photo_count
        assert pieces_by_name(new) == pieces
        assert disagreements(new) == []


def test_a_sound_ledger_built_again_is_the_same(demo, demo_path, photos, rules):
    refresh(demo, find_season(demo), rules)
    demo.keep_draft("note of 17", "half a sen")
    before = everything(demo)
    demo.close()
    new, lost = rebuild(demo_path, [photos], rules, "spare", 1999)
    with new:
        assert lost == []
        assert new.draft("note of 17") == "half a sen"
        assert new.undo() is None  # an undo would throw out what was saved
        assert everything(new) == before
    assert list(demo_path.parent.glob(f"{demo_path.name.split('.')[0]}*damaged*"))


def test_what_a_damaged_ledger_still_holds_is_kept(
    demo_path, photos, rules, quick_ways
):
    with Ledger(demo_path) as demo:
        checks, wishes = len(demo.rows(StoreCheck)), len(demo.rows(Wish))
        clumps = {clump.name for clump in demo.rows(Clump)}
        demo.backup(demo_path)  # one file, without what is written ahead
    sound = demo_path.read_bytes()
    chance = Random(10)
    kept_checks = []
    for number in range(6):
        path = demo_path.with_name(f"{number}.db")
        data = bytearray(sound)
        # A bad sector or two behind the first page.
        for _ in range(chance.randint(1, 2)):
            place = chance.randrange(4096, len(data) - 512)
            data[place : place + 512] = bytes(chance.randbytes(512))
        path.write_bytes(data)
        new, lost = rebuild(path, [photos], rules, "Quillfold", 2026)
        with new:
            assert new.faults() == []
            found = {clump.name for clump in new.rows(Clump)}
            assert clumps <= found or lost
            kept_checks.append(len(new.rows(StoreCheck)) == checks)
            assert len(new.rows(Wish)) == wishes or lost
    assert sum(kept_checks) >= 3


def test_a_build_that_is_cut_short_leaves_the_old_ledger(
    demo, demo_path, photos, rules, monkeypatch
):
    before = everything(demo)
    demo.close()

    def stop(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("eyefind.season.health._take_in", stop)
        with pytest.raises(KeyboardInterrupt):
            rebuild(demo_path, [photos], rules, "spare", 1999)
    with Ledger(demo_path) as old:
        assert everything(old) == before
    new, lost = rebuild(demo_path, [photos], rules, "spare", 1999)
    with new:
        assert lost == []
        assert new.rows(StoreCheck) == before[StoreCheck]
    assert not list(demo_path.parent.glob(".*"))


def test_words_that_stand_only_in_the_log_are_kept_too(demo, demo_path, photos, rules):
    # The window that wrote them was killed: SQLite did not tidy up.
    with demo.deed("typed") as deed:
        deed.change(demo.rows(Variety)[0], note="only in the log")
    for name in (demo_path.name, f"{demo_path.name}-wal"):
        copy = demo_path.with_name(f"killed-{name}")
        copy.write_bytes(demo_path.with_name(name).read_bytes())
    new, _ = rebuild(
        demo_path.with_name(f"killed-{demo_path.name}"), [photos], rules, "spare", 1999
    )
    with new:
        assert new.rows(Variety)[0].note == "only in the log"


def test_nothing_to_build_from_is_told(tmp_path, rules):
    with pytest.raises(UsageError):
        rebuild(tmp_path / "l.db", [tmp_path], rules, "Quillfold", 2026)


def test_damaged_records_do_not_stop_the_others(demo_path, photos, rules):
    sound = (photos / "1" / "IMG_0301.eyefind.json").read_bytes()
    chance = Random(11)
    folder = demo_path.parent / "fuzzed"
    folder.mkdir()
    for number in range(12):
        data = bytearray(sound)
        for _ in range(chance.randint(1, 5)):
            place = chance.randrange(len(data))
            if number % 2:
                data[place] = chance.randrange(256)
            else:
                del data[place : place + chance.randint(1, 2000)]
        (folder / f"{number}.eyefind.json").write_bytes(data)
    (folder / "whole.eyefind.json").write_bytes(sound)
    new, lost = rebuild(folder / "l.db", [folder], rules, "Quillfold", 2026)
    with new:
        assert new.faults() == []
        kept = {row.record_path.rpartition("/")[2] for row in new.rows(ClumpPhoto)}
        assert "whole.eyefind.json" in kept
        assert len(kept) + len(lost) == 13
        assert new.rows(StoredPiece)


def test_a_ledger_with_a_bad_page_is_told_by_a_reader(demo_path):
    with Ledger(demo_path) as demo:
        demo.backup(demo_path)
    data = bytearray(demo_path.read_bytes())
    data[8192 : len(data) - 4096] = bytes(len(data) - 4096 - 8192)
    demo_path.write_bytes(data)

    def read_all():
        with Ledger(demo_path) as bad:
            for kind in TABLES:
                bad.rows(kind)

    with pytest.raises(LedgerError, match="season rebuild"):
        read_all()
