"""Every table out as CSV or spreadsheet, and back again without a change.

A table is a file (CSV) or a page (spreadsheet) with its columns' names on top. Rows
with a known ``id`` are changed, rows without one are added, and a row is never
deleted: it is binned by its ``binned_at``. All is checked before anything is written,
and one undo takes the whole import back.
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import msgspec
from openpyxl import Workbook, load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from eyefind.errors import UsageError, WriteError
from eyefind.record import write_bytes
from eyefind.season.ledger import Ledger
from eyefind.season.tables import TABLES, Row, Way

DERIVED = (Way,)
"""Tables that are renewed from the records alone: not taken in."""
RISKY = ("=", "+", "-", "@", "\t", "\r", "'")
"""A spreadsheet would run a text that begins so (OWASP, CSV Injection): it is given a
``'`` in front, which is taken off again when it is read."""

LONGEST_CELL = 32_767
"""Letters that a cell of a spreadsheet can hold."""
NO_CELL = re.compile(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]|_x[0-9A-Fa-f]{4}_")
"""What XML cannot carry, or what a spreadsheet would read as something else."""

Cells = Iterable[tuple[Any, ...]]


def write_csv(ledger: Ledger, folder: Path) -> list[Path]:
    """Write every table as CSV (RFC 4180, UTF-8).

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    folder : Path
        Where to.

    Returns
    -------
    list of Path
        One file a table, ``clump.csv`` and so on.
    """
    written = []
    for kind, name in TABLES.items():
        text = io.StringIO(newline="")
        csv.writer(text).writerows(_cells(ledger, kind))
        path = folder / f"{name}.csv"
        write_bytes(path, text.getvalue().encode())
        written.append(path)
    return written


def write_spreadsheet(ledger: Ledger, path: Path) -> None:
    """Write every table as a page of a spreadsheet (ISO/IEC 29500).

    Raises
    ------
    UsageError
        If a text does not fit into a cell; nothing is written then.
    WriteError
        If the file cannot be written.
    """
    pages = {name: list(_cells(ledger, kind)) for kind, name in TABLES.items()}
    for name, rows in pages.items():
        for cell in (cell for row in rows for cell in row):
            if isinstance(cell, str) and not _fits_cell(cell):
                raise UsageError(
                    f"A text of {name} fits no spreadsheet: {cell[:40]!r}.",
                    "It is too long or holds control characters. CSV can hold it.",
                )
    write_bytes(path, _book(pages, path))


def _book(pages: dict[str, list[tuple[object, ...]]], path: Path) -> bytes:
    book, stream = Workbook(write_only=True), io.BytesIO()
    try:
        for name, rows in pages.items():
            page = book.create_sheet(name)
            for row in rows:
                page.append(row)
        book.save(stream)
    except Exception as error:
        # It goes through temporary files; what a full disk raises hangs on the
        # library that writes the XML.
        raise WriteError(
            f"{path} cannot be written: {error}.", "Make room on the disk."
        ) from error
    return stream.getvalue()


def read_tables(ledger: Ledger, source: Path) -> int:
    """Take in what was changed in a folder of CSV files, one CSV file or a spreadsheet.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    source : Path
        Folder, ``TABLE.csv`` or ``.xlsx`` file.

    Returns
    -------
    int
        How many rows were added or changed.

    Raises
    ------
    UsageError
        If something does not fit; nothing is written then. All that is wrong is told.
    """
    kinds = {name: kind for kind, name in TABLES.items() if kind not in DERIVED}
    rows: list[Row] = []
    wrong: list[str] = []
    for name, cells in _pages(source):
        if name in kinds:
            for place, values in _lines(name, cells, wrong):
                try:
                    rows.append(_row(kinds[name], values))
                except (ValueError, msgspec.ValidationError) as error:
                    wrong.append(f"{name}, line {place}: {error}")
    if wrong:
        more = f" ... and {len(wrong) - 20} more" if len(wrong) > 20 else ""
        raise UsageError(
            f"{source} cannot be taken in. {'; '.join(wrong[:20])}{more}.",
            "Nothing was written. Mend these and try again.",
        )
    return _write(ledger, rows, source)


def _write(ledger: Ledger, rows: list[Row], source: Path) -> int:
    changed = 0
    # Rows come in the order of TABLES: what others refer to is there before them.
    order = list(TABLES)
    with ledger.deed(f"taken in from {source.name}") as deed:
        for row in sorted(rows, key=lambda row: order.index(type(row))):
            known = row.id and ledger.ask(
                f"SELECT 1 FROM {TABLES[type(row)]} WHERE id = ?", row.id
            )
            if not known:
                deed.add(row)
                changed += 1
            elif ledger.row(type(row), row.id) != row:
                deed.change(row, **asdict(row))
                changed += 1
    return changed


def _cells(ledger: Ledger, kind: type[Row]) -> Iterator[tuple[object, ...]]:
    names = [field.name for field in fields(kind)]
    yield tuple(names)
    for binned in (False, True):
        for row in ledger.rows(kind, binned=binned):
            yield tuple(_to_cell(getattr(row, name)) for name in names)


def _to_cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, str) and (not value or value.startswith(RISKY)):
        # An empty text is not a missing one.
        return f"'{value}"
    return value


def _fits_cell(text: str) -> bool:
    return len(text) <= LONGEST_CELL and NO_CELL.search(text) is None


def _pages(source: Path) -> Iterator[tuple[str, Cells]]:
    if source.is_dir():
        files = [source / f"{name}.csv" for name in TABLES.values()]
        for path in filter(Path.exists, files):
            yield path.stem, _csv(path)
    elif source.suffix.lower() == ".csv":
        yield source.stem, _csv(source)
    else:
        try:
            book = load_workbook(source, read_only=True, data_only=True)
            for page in book.worksheets:
                yield page.title, page.iter_rows(values_only=True)
        except (
            OSError,
            BadZipFile,
            KeyError,
            ValueError,
            InvalidFileException,
        ) as error:
            raise UsageError(
                f"{source} cannot be read: {error}.",
                "Give a folder of CSV files, a TABLE.csv or an .xlsx file.",
            ) from error


def _csv(path: Path) -> Cells:
    try:
        # Not as text: that would make other line ends of those in a cell.
        text = path.read_bytes().decode("utf-8-sig")
        return [tuple(row) for row in csv.reader(io.StringIO(text, newline=""))]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise UsageError(
            f"{path} cannot be read: {error}.", "Save it as UTF-8."
        ) from error


def _lines(
    name: str, cells: Cells, wrong: list[str]
) -> Iterator[tuple[int, Mapping[str, object]]]:
    lines = iter(cells)
    head = [str(cell or "") for cell in next(lines, ())]
    for place, line in enumerate(lines, 2):
        if any(cell not in (None, "") for cell in line):
            if len(line) > len(head):
                wrong.append(f"{name}, line {place}: more cells than columns")
            else:
                yield place, dict(zip(head, line, strict=False))


def _row(kind: type[Row], values: Mapping[str, object]) -> Row:
    """Build a row of what stands in cells; what is empty takes its default."""
    known = {field.name for field in fields(kind)}
    if unknown := set(values) - known - {""}:
        raise ValueError(f"unknown column {', '.join(sorted(unknown))}")
    given = {
        name: value[1:] if isinstance(value, str) and value[:1] == "'" else value
        for name, value in values.items()
        if name in known and value not in (None, "")
    }
    row = msgspec.convert(given, kind, strict=False)
    if row.id < 0:
        raise ValueError(f"{row.id} is no id")
    return row
