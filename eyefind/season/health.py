"""Whether the ledger is sound and agrees with the records; building it again."""

import sqlite3
from collections.abc import Iterable
from contextlib import closing, suppress
from dataclasses import fields
from glob import escape
from itertools import groupby
from pathlib import Path
from typing import Any

import msgspec

from eyefind.errors import EyefindError, UsageError
from eyefind.record import set_aside
from eyefind.record.store import ENDING
from eyefind.rules import Rules
from eyefind.season.binding import photo_columns, refresh, renew_clumps
from eyefind.season.deeds import Deed
from eyefind.season.ledger import Ledger
from eyefind.season.readings import file_sha256, read_reading
from eyefind.season.tables import (
    TABLES,
    Clump,
    ClumpPhoto,
    Garden,
    Row,
    Season,
    Variety,
)
from eyefind.season.tags import Tag, read_tag


def disagreements(ledger: Ledger) -> list[str]:
    """Compare the ledger with the bytes of every record that it is bound to.

    Parameters
    ----------
    ledger : Ledger
        The ledger.

    Returns
    -------
    list of str
        What is wrong with the file itself, and which records are gone or others than
        the ledger last read; the next use reads those again.
    """
    found = ledger.faults()
    for photo in ledger.rows(ClumpPhoto):
        if photo.record_path is None:
            continue
        try:
            sha256 = file_sha256(Path(photo.record_path))
        except OSError:
            found.append(f"the record {photo.record_path} is gone")
            continue
        if sha256 != photo.record_sha256:
            found.append(
                f"the record {photo.record_path} was changed since it was read"
            )
    return found


def rebuild(
    path: Path, folders: Iterable[Path], rules: Rules, garden: str, year: int
) -> tuple[Ledger, list[str]]:
    """Build the ledger again from a damaged one and from the records.

    The old file is set aside. What can still be read from it is taken first, since
    counts, boxes, checks and growth stand nowhere else; then every record gives its
    clump, which is told by the tag that it carries.

    Parameters
    ----------
    path : Path
        The ledger, damaged, sound or gone.
    folders : iterable of Path
        Where the records lie.
    rules : Rules
        The rules of the trade.
    garden, year : str, int
        Where records without a tag belong.

    Returns
    -------
    ledger : Ledger
        The new ledger.
    lost : list of str
        What could not be read.

    Raises
    ------
    UsageError
        If there is neither a ledger nor a record.
    WriteError
        If a file cannot be written; the old ledger is then kept aside.
    """
    records = sorted(
        found for folder in folders for found in folder.rglob(f"*{ENDING}")
    )
    if not path.exists() and not records:
        raise UsageError(
            f"There is no ledger {path} and no record.",
            "Name the folder of the photos.",
        )
    lost: list[str] = []
    rows: list[Row] = []
    drafts: dict[str, str] = {}
    if path.exists():
        for file in filter(Path.exists, _files(path)):
            set_aside(file)
        rows, drafts = _rescued(path, lost), _rescued_drafts(path)
    # The old one stays in its place until the new one is whole.
    part = path.with_name(f".{path.name}.eyefind-part")
    _unlink(part)
    with Ledger(part) as ledger:
        _put(ledger, rows, lost)
        for key, text in drafts.items():
            ledger.keep_draft(key, text)
        for season in ledger.rows(Season):
            refresh(ledger, season, rules)
        for record in records:
            try:
                _take_in(ledger, record.resolve(), rules, garden, year)
            except EyefindError as error:
                lost.append(str(error))
        bare = ledger.rows(Clump, "id NOT IN (SELECT clump_id FROM piece)")
        # Which of a clump's pieces are lost nobody can tell.
        again = ledger.rows(Clump) if lost else bare
        renew_clumps(ledger, [clump.id for clump in again], rules)
    # SQLite would write the old one's log into the new one.
    _unlink(path)
    part.replace(path)
    return Ledger(path), lost


def _files(path: Path) -> list[Path]:
    """Return the files of a ledger: itself, and what SQLite keeps beside it."""
    return [path.with_name(f"{path.name}{ending}") for ending in ("", "-wal", "-shm")]


def _unlink(path: Path) -> None:
    for file in _files(path):
        file.unlink(missing_ok=True)


def _rescued(path: Path, lost: list[str]) -> list[Row]:
    """Read row by row what a damaged ledger still yields."""
    rows: list[Row] = []
    with suppress(sqlite3.Error), closing(sqlite3.connect(path)) as db:
        db.row_factory = sqlite3.Row
        for kind, name in TABLES.items():
            try:
                cursor = db.execute(f"SELECT * FROM {name} NOT INDEXED")
                while (found := cursor.fetchone()) is not None:
                    rows += _row(kind, dict(found), lost)
            except sqlite3.Error as error:
                lost.append(f"the rest of the table {name} ({error})")
    return rows


def _rescued_drafts(path: Path) -> dict[str, str]:
    with suppress(sqlite3.Error), closing(sqlite3.connect(path)) as db:
        return dict(db.execute("SELECT key, text FROM draft NOT INDEXED"))
    return {}


def _row(kind: type[Row], values: dict[str, Any], lost: list[str]) -> list[Row]:
    known = {field.name for field in fields(kind)}
    given = {key: value for key, value in values.items() if key in known}
    try:
        return [msgspec.convert(given, kind, strict=False)]
    except msgspec.ValidationError as error:
        lost.append(f"row {values.get('id')} of {TABLES[kind]} ({error})")
        return []


def _put(ledger: Ledger, rows: list[Row], lost: list[str]) -> None:
    """Enter rows a table at a time; one by one where not all of a table fit."""
    for _, table in groupby(rows, type):
        group = list(table)
        try:
            _add(ledger, group)
        except EyefindError:
            for row in group:
                try:
                    _add(ledger, [row])
                except EyefindError as error:
                    lost.append(f"row {row.id} of {TABLES[type(row)]} ({error.what})")


def _add(ledger: Ledger, rows: list[Row]) -> None:
    with ledger.refreshing() as deed:
        for row in rows:
            deed.add(row)


def _take_in(
    ledger: Ledger, record: Path, rules: Rules, garden: str, year: int
) -> None:
    if ledger.rows(ClumpPhoto, "record_path = ?", str(record)):
        return
    reading = read_reading(record, rules)
    name = record.name.removesuffix(ENDING)
    tag = read_tag(record) or Tag(garden, year, reading.code or name, reading.code)
    with ledger.refreshing() as deed:
        season = _season(ledger, deed, tag)
        clump = _clump(ledger, deed, season, tag)
        photo = ClumpPhoto(
            season_id=season.id,
            clump_id=clump.id,
            path=str(_photo_of(record, name)),
            placed_by="grower",
        )
        deed.change(deed.add(photo), **photo_columns(reading))


def _season(ledger: Ledger, deed: Deed, tag: Tag) -> Season:
    gardens = ledger.rows(Garden, "name = ?", tag.garden)
    garden = gardens[0] if gardens else deed.add(Garden(name=tag.garden))
    query = "garden_id = ? AND year = ?"
    for season in ledger.rows(Season, query, garden.id, tag.year):
        return season
    return deed.add(Season(garden_id=garden.id, year=tag.year))


def _clump(ledger: Ledger, deed: Deed, season: Season, tag: Tag) -> Clump:
    for clump in ledger.rows(Clump, "season_id = ? AND name = ?", season.id, tag.name):
        return clump
    variety_id = None
    if tag.variety:
        query = "garden_id = ? AND name = ?"
        known = ledger.rows(Variety, query, season.garden_id, tag.variety)
        new = Variety(garden_id=season.garden_id, name=tag.variety)
        variety_id = (known[0] if known else deed.add(new)).id
    return deed.add(
        Clump(
            season_id=season.id,
            name=tag.name,
            code=tag.code,
            variety_id=variety_id,
            bed=tag.bed,
            place=tag.place,
            light=tag.light,
            lifted_on=tag.lifted_on,
            cut_on=tag.cut_on,
            note=tag.note,
        )
    )


def _photo_of(record: Path, name: str) -> Path:
    """Return the photo of a record: the file beside it that bears its name."""
    for path in sorted(record.parent.glob(f"{escape(name)}.*")):
        if not path.name.endswith(".json") and ".eyefind" not in path.name:
            return path
    return record.with_name(name)
