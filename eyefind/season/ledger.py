"""The ledger: a SQLite file in which no typed word is ever lost.

Every change is a *deed*: one transaction, on the disk when it returns, with the rows
before and after it, so that it can be taken back. Nothing is deleted; what is thrown
away goes into the bin. What is derived from records is refreshed outside the deeds.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TypeVar

from eyefind.errors import UsageError
from eyefind.season.deeds import Deed, now, to_row, turn
from eyefind.season.migrations import VERSIONS
from eyefind.season.tables import TABLES, Row
from eyefind.season.trouble import LedgerError, told

VERSION = len(VERSIONS)
BUSY_S = 30.0
"""How long a second window waits for the first one's transaction."""

T = TypeVar("T", bound=Row)


class Ledger:
    """An open ledger.

    Several programs may have one open at the same time: readers never wait (WAL), and
    writers wait for each other.

    Parameters
    ----------
    path : Path
        The file; made when it is missing.

    Raises
    ------
    LedgerError
        If it is damaged, no ledger, or of a newer eyefind.
    WriteError
        If it cannot be made or brought to this version.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        with told(self.path):
            self._db = sqlite3.connect(
                path, timeout=BUSY_S, isolation_level=None, check_same_thread=False
            )
            self._db.row_factory = sqlite3.Row
            try:
                self._db.execute("PRAGMA journal_mode = WAL")
                # With NORMAL the last deeds may be gone after a power cut.
                self._db.execute("PRAGMA synchronous = FULL")
                self._db.execute("PRAGMA foreign_keys = ON")
                self._migrate()
            except BaseException:
                self._db.close()
                raise

    def close(self) -> None:
        """Close it."""
        self._db.close()

    def __enter__(self) -> "Ledger":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def rows(
        self, kind: type[T], where: str = "TRUE", *values: object, binned: bool = False
    ) -> list[T]:
        """Return the rows of a table that are not in the bin, or those that are.

        Parameters
        ----------
        kind : type
            Class of the rows.
        where : str
            SQL condition with ``?`` for each of `values`; never anything typed.
        *values : object
            The values.
        binned : bool
            Whether to return those in the bin instead.

        Returns
        -------
        list
            In the order in which they were added.
        """
        is_binned = "IS NOT NULL" if binned else "IS NULL"
        query = (
            f"SELECT * FROM {TABLES[kind]} WHERE binned_at {is_binned} AND ({where}) "
            "ORDER BY id"
        )
        return [to_row(kind, row) for row in self.ask(query, *values)]

    def row(self, kind: type[T], row_id: int) -> T:
        """Return one row, in the bin or not.

        Raises
        ------
        UsageError
            If there is none.
        """
        query = f"SELECT * FROM {TABLES[kind]} WHERE id = ?"
        for row in self.ask(query, row_id):
            return to_row(kind, row)
        raise UsageError(
            f"The ledger has no {TABLES[kind]} number {row_id}.",
            "It may belong to another ledger.",
        )

    def ask(self, query: str, *values: object) -> list[sqlite3.Row]:
        """Return what a SQL question yields."""
        with told(self.path):
            return self._db.execute(query, values).fetchall()

    @contextmanager
    def deed(self, what: str) -> Iterator["Deed"]:
        """Do something that can be taken back; on return it is on the disk.

        Parameters
        ----------
        what : str
            What is done, in the grower's words.

        Yields
        ------
        Deed
            Takes the changes; an error leaves the ledger as it was.
        """
        with self._transaction():
            at = now()
            # What was taken back before cannot be brought back after a new deed.
            self._db.execute("UPDATE deed SET undone = 2 WHERE undone = 1")
            deed_id = self._db.execute(
                "INSERT INTO deed (at, what) VALUES (?, ?)", (at, what)
            ).lastrowid
            yield Deed(self._db, deed_id)

    @contextmanager
    def refreshing(self) -> Iterator["Deed"]:
        """Write what is derived from records: like `deed`, but not to be taken back.

        Yields
        ------
        Deed
            Takes the changes; an error leaves the ledger as it was.
        """
        with self._transaction():
            yield Deed(self._db, None)

    def undo(self) -> str | None:
        """Take back the last deed that stands.

        Returns
        -------
        str or None
            What was taken back; None when there is nothing.
        """
        with self._transaction():
            return turn(self._db, back=True)

    def redo(self) -> str | None:
        """Bring back the last deed that was taken back.

        Returns
        -------
        str or None
            What was brought back; None when there is nothing.
        """
        with self._transaction():
            return turn(self._db, back=False)

    def deeds(self, count: int) -> list[tuple[str, str]]:
        """Return time and words of the last `count` deeds that stand, newest first."""
        query = "SELECT at, what FROM deed WHERE undone = 0 ORDER BY id DESC LIMIT ?"
        return [(row["at"], row["what"]) for row in self.ask(query, count)]

    def draft(self, key: str) -> str:
        """Return what was typed under `key` and not yet said; "" for nothing."""
        found = self.ask("SELECT text FROM draft WHERE key = ?", key)
        return found[0]["text"] if found else ""

    def keep_draft(self, key: str, text: str) -> None:
        """Keep what is being typed under `key`; "" forgets it."""
        with self._transaction():
            self._db.execute("DELETE FROM draft WHERE key = ?", (key,))
            if text:
                self._db.execute(
                    "INSERT INTO draft VALUES (?, ?, ?)", (key, text, now())
                )

    def faults(self) -> list[str]:
        """Return what SQLite's own checks find wrong; empty for a sound ledger."""
        with told(self.path):
            found = [row[0] for row in self._db.execute("PRAGMA integrity_check")]
            broken = self._db.execute("PRAGMA foreign_key_check").fetchall()
        found = [fault for fault in found if fault != "ok"]
        return found + [
            f"row {row[1]} of {row[0]} refers to a {row[2]} that is not there"
            for row in broken
        ]

    def backup(self, path: Path) -> None:
        """Write a copy of the whole ledger; others may go on writing meanwhile.

        Parameters
        ----------
        path : Path
            The copy; an older file there is replaced once the copy is whole.

        Raises
        ------
        WriteError
            If it cannot be written.
        """
        part = path.with_name(f".{path.name}.eyefind-part")
        with told(path):
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
                part.unlink(missing_ok=True)
                with closing(sqlite3.connect(part)) as copy:
                    self._db.backup(copy)
                    copy.execute("PRAGMA journal_mode = DELETE")
                part.replace(path)
            except BaseException:
                with suppress(OSError):
                    part.unlink(missing_ok=True)
                raise

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with told(self.path):
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
                self._db.execute("COMMIT")
            except BaseException:
                # A full disk may have rolled back already.
                if self._db.in_transaction:
                    self._db.execute("ROLLBACK")
                raise

    def _migrate(self) -> None:
        (found,) = self._db.execute("PRAGMA user_version").fetchone()
        if found > VERSION:
            raise LedgerError(
                f"{self.path} was written by a newer eyefind (ledger version {found}; "
                f"this one knows version {VERSION}).",
                "It was left as it is. Install the newer eyefind to go on with it.",
            )
        if found == 0 and self._db.execute("SELECT 1 FROM sqlite_master").fetchone():
            raise LedgerError(
                f"{self.path} is a SQLite file, but no ledger of eyefind.",
                "It was left as it is. Give another name with --ledger.",
            )
        if 0 < found < VERSION:
            self.backup(self.path.with_name(f"{self.path.name}.version-{found}"))
        for version in range(found + 1, VERSION + 1):
            self._step_to(version)

    def _step_to(self, version: int) -> None:
        with self._transaction():
            # Another window may have been faster.
            if self._db.execute("PRAGMA user_version").fetchone()[0] >= version:
                return
            for statement in VERSIONS[version - 1].split(";\n"):
                self._db.execute(statement)
            self._db.execute(f"PRAGMA user_version = {version}")
