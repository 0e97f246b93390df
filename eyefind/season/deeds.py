"""Deeds: changes of the ledger that are logged, so that they can be taken back."""

import sqlite3
from dataclasses import asdict, fields, replace
from datetime import datetime
from typing import Any, TypeVar

import msgspec

from eyefind.season.tables import TABLES, Row

T = TypeVar("T", bound=Row)

BOOLS = {
    kind: [field.name for field in fields(kind) if field.type is bool]
    for kind in TABLES
}
"""SQLite has no type for them."""


def now() -> str:
    """Return the time, ISO 8601 with offset."""
    return datetime.now().astimezone().isoformat(timespec="milliseconds")


class Deed:
    """Takes the changes of one transaction."""

    def __init__(self, db: sqlite3.Connection, deed_id: int | None) -> None:
        self._db = db
        self._id = deed_id

    def add(self, row: T) -> T:
        """Add a row; its ``id`` is given by the ledger when it is 0.

        Parameters
        ----------
        row : dataclass of `eyefind.season.tables`
            The row.

        Returns
        -------
        dataclass
            The row with its id.
        """
        name, values = TABLES[type(row)], asdict(row)
        if not row.id:
            del values["id"]
        columns = ", ".join(values)
        marks = ", ".join("?" * len(values))
        done = self._db.execute(
            f"INSERT INTO {name} ({columns}) VALUES ({marks})", tuple(values.values())
        )
        row = replace(row, id=done.lastrowid or 0)
        self._log(name, row.id, None, asdict(row))
        return row

    def change(self, row: T, **values: Any) -> T:
        """Change columns of a row.

        Parameters
        ----------
        row : dataclass of `eyefind.season.tables`
            The row as it is; only its id counts.
        **values : object
            The columns that change.

        Returns
        -------
        dataclass
            The row as it now is in the ledger.
        """
        kind, name = type(row), TABLES[type(row)]
        query = f"SELECT * FROM {name} WHERE id = ?"
        before = to_row(kind, self._db.execute(query, (row.id,)).fetchone())
        after = replace(before, **values)
        if after != before:
            _update(self._db, name, row.id, values)
            self._log(name, row.id, asdict(before), asdict(after))
        return after

    def bin(self, row: T) -> T:
        """Put a row into the bin."""
        return self.change(row, binned_at=now())

    def unbin(self, row: T) -> T:
        """Take a row out of the bin."""
        return self.change(row, binned_at=None)

    def _log(
        self,
        name: str,
        row_id: int,
        before: dict[str, Any] | None,
        after: dict[str, Any],
    ) -> None:
        if self._id is None:
            return
        self._db.execute(
            "INSERT INTO step (deed_id, name, row_id, before, after) "
            "VALUES (?, ?, ?, ?, ?)",
            (
                self._id,
                name,
                row_id,
                None if before is None else _json(before),
                _json(after),
            ),
        )


def turn(db: sqlite3.Connection, back: bool) -> str | None:
    """Take back the last deed that stands, or bring back the last one taken back.

    Parameters
    ----------
    db : sqlite3.Connection
        The ledger, in a transaction.
    back : bool
        Whether to take back.

    Returns
    -------
    str or None
        What was done with that deed; None when there is none.
    """
    which = "undone = 0 ORDER BY id DESC" if back else "undone = 1 ORDER BY id"
    deed = db.execute(f"SELECT id, what FROM deed WHERE {which} LIMIT 1").fetchone()
    if deed is None:
        return None
    order = "DESC" if back else "ASC"
    steps = db.execute(
        f"SELECT * FROM step WHERE deed_id = ? ORDER BY id {order}", (deed["id"],)
    )
    for step in steps.fetchall():
        _take(db, step, back)
    db.execute("UPDATE deed SET undone = ? WHERE id = ?", (int(back), deed["id"]))
    return str(deed["what"])


def to_row(kind: type[T], found: sqlite3.Row) -> T:
    """Return what SQLite found as a row of `kind`."""
    values = dict(found)
    for name in BOOLS[kind]:
        values[name] = bool(values[name])
    return kind(**values)


def _take(db: sqlite3.Connection, step: sqlite3.Row, back: bool) -> None:
    """Put a row as it was before a step, or as it was after it."""
    after = msgspec.json.decode(step["after"])
    if step["before"] is None:
        # A row that was added goes into the bin: others may refer to it.
        changed = {"binned_at": now() if back else after["binned_at"]}
    else:
        before = msgspec.json.decode(step["before"])
        goal = before if back else after
        # Only what this step changed: the rest may have been refreshed since.
        changed = {k: goal[k] for k in goal if before[k] != after[k]}
    _update(db, step["name"], step["row_id"], changed)


def _update(
    db: sqlite3.Connection, name: str, row_id: int, values: dict[str, object]
) -> None:
    if values:
        columns = ", ".join(f"{column} = ?" for column in values)
        db.execute(
            f"UPDATE {name} SET {columns} WHERE id = ?", (*values.values(), row_id)
        )


def _json(values: dict[str, Any]) -> str:
    return msgspec.json.encode(values).decode()
