"""CSV and spreadsheet: every table out and back without a change; rubbish refused."""

import csv
import io
from dataclasses import asdict
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from eyefind.errors import EyefindError, UsageError
from eyefind.season.exchange import RISKY, read_tables, write_csv, write_spreadsheet
from eyefind.season.garden import find_clump, set_wish, start_season
from eyefind.season.ledger import Ledger
from eyefind.season.tables import TABLES, Clump, Garden, Season, Variety, Way


def everything(ledger):
    return {
        kind: [ledger.rows(kind), ledger.rows(kind, binned=True)] for kind in TABLES
    }


@pytest.fixture(params=["csv", "xlsx"])
def written(request, tmp_path):
    """Write a ledger out, and return where it lies."""

    def write(ledger):
        if request.param == "csv":
            write_csv(ledger, tmp_path / "tables")
            return tmp_path / "tables"
        write_spreadsheet(ledger, tmp_path / "tables.xlsx")
        return tmp_path / "tables.xlsx"

    return write


def test_the_demo_goes_out_and_back_without_a_change(demo, written):
    before = everything(demo)
    assert read_tables(demo, written(demo)) == 0
    assert everything(demo) == before


def test_the_demo_comes_whole_into_an_empty_ledger(demo, ledger, written):
    source = written(demo)
    assert read_tables(ledger, source) > 200
    copied, original = everything(ledger), everything(demo)
    # What divides a clump is renewed from its record.
    del copied[Way], original[Way]
    assert copied == original
    ledger.undo()
    assert not any(ledger.rows(kind) for kind in TABLES)


texts = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=30)


@settings(
    deadline=None,
    max_examples=15,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.lists(texts, min_size=1, max_size=6, unique=True), texts)
def test_whatever_was_typed_goes_through_csv(tmp_path_factory, names, note):
    folder = tmp_path_factory.mktemp("csv")
    with Ledger(folder / "l.db") as ledger, Ledger(folder / "copy.db") as copy:
        season = start_season(ledger, "Quillfold", 2026)
        with ledger.deed("typed") as deed:
            for name in names:
                deed.add(Variety(garden_id=season.garden_id, name=name, note=note))
                deed.add(Clump(season_id=season.id, name=name, note=note, code=None))
        write_csv(ledger, folder / "tables")
        assert read_tables(copy, folder / "tables") > 0
        assert everything(copy) == everything(ledger)


@pytest.mark.parametrize(
    "text",
    [*(f"{sign}cmd|' /C calc'!A0" for sign in RISKY if sign != "\r"), "'", "''x", ""],
)
def test_no_text_runs_in_a_spreadsheet_and_each_comes_back(
    ledger, season, written, text
):
    # OWASP, CSV Injection: a cell that begins with one of these may be run.
    set_wish(ledger, season, "Owl Ledger", note=text)
    source = written(ledger)
    if source.is_dir():
        page = list(csv.DictReader((source / "variety.csv").open(newline="")))
        cell = page[0]["note"]
    else:
        head, row = load_workbook(source)["variety"].iter_rows(values_only=True)
        cell = row[head.index("note")]
    assert not cell.startswith(tuple(set(RISKY) - {"'"}))
    before = everything(ledger)
    assert read_tables(ledger, source) == 0
    assert everything(ledger) == before


def test_a_change_in_the_table_is_taken_in_and_undone(demo, demo_season, tmp_path):
    write_csv(demo, tmp_path)
    path = tmp_path / "clump.csv"
    rows = list(csv.DictReader(path.open(newline="")))
    rows[0]["note"] = "grew by the gate"
    del rows[1]["name"]  # a column's worth of nothing
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, list(rows[0]))
    writer.writeheader()
    writer.writerow(rows[0])
    writer.writerow({"season_id": demo_season.id, "name": "a new clump"})
    path.write_text(text.getvalue(), newline="")
    assert read_tables(demo, path) == 2
    assert find_clump(demo, demo_season, "1").note == "grew by the gate"
    assert find_clump(demo, demo_season, "a new clump").id
    # What was left out of the table stays.
    assert len(demo.rows(Clump)) == 41
    demo.undo()
    assert find_clump(demo, demo_season, "1").note == ""
    assert len(demo.rows(Clump)) == 40


@pytest.mark.parametrize(
    ("table", "text", "why"),
    [
        ("garden", "id,name\r\nx,Quillfold", "garden, line 2"),
        ("garden", "id,name,colour\r\n1,Quillfold,red", "colour"),
        ("garden", "id,name\r\n1,Quillfold,red", "more cells"),
        ("garden", "id,name\r\n-1,Quillfold", "-1"),
        ("garden", "id\r\n9", "name"),
        ("season", "garden_id,year\r\n77,2026", "FOREIGN KEY"),
        ("season", "garden_id,year,loss\r\n1,2027,1.5", "loss"),
        ("garden", "id,name\r\n,Quillfold", "already"),
    ],
)
def test_what_does_not_fit_is_told_and_nothing_is_written(
    ledger, season, tmp_path, table, text, why
):
    before = everything(ledger)
    path = tmp_path / f"{table}.csv"
    path.write_text(text, newline="")
    with pytest.raises(UsageError, match=why):
        read_tables(ledger, path)
    assert everything(ledger) == before
    assert ledger.deeds(9)[0][1] == "season 2026 of Quillfold started"


@pytest.mark.parametrize("name", ["none.csv", "none.xlsx", "none.ods"])
def test_a_file_that_is_not_there_is_told(ledger, tmp_path, name):
    with pytest.raises(UsageError, match="cannot be read"):
        read_tables(ledger, tmp_path / name)


def test_rubbish_for_a_spreadsheet_is_told(ledger, tmp_path):
    path = tmp_path / "x.xlsx"
    for rubbish in (b"", b"PK\x03\x04", b"no zip at all" * 99):
        path.write_bytes(rubbish)
        with pytest.raises(UsageError, match="cannot be read"):
            read_tables(ledger, path)


def test_line_ends_in_a_note_stay_as_they_are_in_csv(ledger, season, tmp_path):
    set_wish(ledger, season, "Owl Ledger", note="\rone\r\ntwo\n")
    write_csv(ledger, tmp_path)
    assert read_tables(ledger, tmp_path) == 0


@pytest.mark.parametrize("text", ["x" * 32_768, "bell \x07", "a\rb", "an _x0041_"])
def test_what_no_cell_can_hold_is_told_before_it_is_lost(
    ledger, season, tmp_path, text
):
    set_wish(ledger, season, "Owl Ledger", note=text)
    with pytest.raises(UsageError, match="CSV can hold it"):
        write_spreadsheet(ledger, tmp_path / "x.xlsx")
    assert not (tmp_path / "x.xlsx").exists()


def test_fuzzed_tables_are_taken_in_whole_or_not_at_all(demo, tmp_path):
    write_csv(demo, tmp_path)
    chance = Random(8)
    before, refused = everything(demo), 0
    for _ in range(150):
        source = tmp_path / f"{chance.choice(list(TABLES.values()))}.csv"
        sound = source.read_bytes()
        data = bytearray(sound)
        for _ in range(chance.randint(1, 4)):
            place = chance.randrange(len(data))
            how = chance.randrange(3)
            if how == 0:
                data[place] = chance.randrange(256)
            elif how == 1:
                del data[place : place + chance.randint(1, 40)]
            else:
                data[place:place] = chance.choice([b",", b'"', b"\r\n", b"\xff", b"-9"])
        source.write_bytes(data)
        try:
            changed = read_tables(demo, source)
        except EyefindError:
            refused += 1
        else:
            # It went in as one deed, which one undo takes back.
            assert demo.undo() if changed else True
        source.write_bytes(sound)
        assert demo.faults() == []
        after = everything(demo)
        for kind in TABLES:
            assert after[kind][0] == before[kind][0]
    assert 20 < refused < 150


def test_tables_have_the_columns_of_the_dataclasses(demo, tmp_path):
    write_csv(demo, tmp_path)
    for kind, name in TABLES.items():
        head = (tmp_path / f"{name}.csv").read_text("utf-8").splitlines()[0]
        assert head.split(",") == list(kind.__dataclass_fields__)
    assert asdict(demo.rows(Garden)[0])["name"] == "Quillfold"
    assert demo.rows(Season)[0].year == 2026
