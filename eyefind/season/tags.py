"""The tag of a clump: what the grower typed of it, kept in its records too.

It is a field of the record's top level, which `eyefind.record` keeps as it is, so that
a ledger that was lost can be built again from the records alone.
"""

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from msgspec import ValidationError
from msgspec.json import decode

from eyefind.errors import RecordError
from eyefind.record import hold, read_record, write_bytes
from eyefind.record.coding import from_fields, to_bytes, to_fields
from eyefind.season.tables import Light

FIELD = "clump"


@dataclass(frozen=True)
class Tag:
    """What a record says of its clump beyond the photo."""

    garden: str
    year: int
    name: str
    code: str | None = None
    variety: str | None = None
    bed: str = ""
    place: str = ""
    light: Light = ""
    lifted_on: str | None = None
    cut_on: str | None = None
    note: str = ""


def read_tag(path: Path) -> Tag | None:
    """Read the tag of a record.

    Parameters
    ----------
    path : Path
        The record.

    Returns
    -------
    Tag or None
        None when it has none, or one that cannot be read.

    Raises
    ------
    RecordError
        If there is no sound record.
    """
    read_record(path)
    try:
        return from_fields(decode(path.read_bytes()).get(FIELD), Tag)
    except ValidationError:
        return None


def write_tag(path: Path, tag: Tag) -> tuple[str, str]:
    """Write the tag of a record; all else in it stays.

    Parameters
    ----------
    path : Path
        The record.
    tag : Tag
        What to write.

    Returns
    -------
    before, after : str
        SHA-256 of the record's bytes as they were and as they are.

    Raises
    ------
    RecordError
        If there is no sound record.
    WriteError
        If it cannot be written; it is then unchanged.
    """
    with hold(path):
        read_record(path)
        try:
            data = path.read_bytes()
        except OSError as error:
            raise RecordError(f"{path} cannot be opened.", "Try again.") from error
        before, fields, new = sha256(data).hexdigest(), decode(data), to_fields(tag)
        if fields.get(FIELD) != new:
            data = to_bytes({**fields, FIELD: new})
            write_bytes(path, data)
        return before, sha256(data).hexdigest()
