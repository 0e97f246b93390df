"""What may go wrong with the ledger, in the grower's words."""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from eyefind.errors import RecordError, UsageError, WriteError

CHOICE = re.compile(r"(?P<column>\w+) IN \((?P<known>'.*)\)")
"""How SQLite names the check of a column that takes a few words only."""


class LedgerError(RecordError):
    """The ledger cannot be read: damaged, of a newer version, no ledger."""


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn SQLite's errors about the file `path` into words."""
    try:
        yield
    except (sqlite3.OperationalError, OSError) as error:
        raise WriteError(
            f"{path} cannot be used: {getattr(error, 'strerror', None) or error}.",
            "What was in it before is unchanged. Make room on the disk, check that "
            "folder and file may be written, and close other windows that wait.",
        ) from error
    except sqlite3.IntegrityError as error:
        raise UsageError(
            f"That does not fit the ledger: {_plain(error)}.", "Nothing was written."
        ) from error
    except sqlite3.DatabaseError as error:
        raise LedgerError(
            f"{path} is damaged: {error}.",
            "Run: eyefind season rebuild. It sets the damaged file aside and keeps "
            "all that can still be read, from it and from the records.",
        ) from error


def _plain(error: sqlite3.IntegrityError) -> str:
    """Return SQLite's complaint in words."""
    said = str(error)
    if said.startswith("UNIQUE"):
        columns = said.partition(": ")[2].split(", ")
        return f"there is one with this {columns[-1].replace('.', ' ')} already"
    if choice := CHOICE.search(said):
        known = choice["known"].replace("'", "").removeprefix(", ")
        return f"the {choice['column'].replace('_', ' ')} must be one of: {known}"
    if said.startswith("CHECK"):
        return f"this must hold: {said.partition(': ')[2]}"
    return said
