"""Reading and writing records without ever losing a decision."""

import os
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import file_digest
from pathlib import Path

import msgspec

from eyefind.data import Decision, Flag, PhotoFacts, Plan, Record
from eyefind.errors import PhotoError, RecordError
from eyefind.record.coding import (
    FORMAT,
    VERSION,
    Fields,
    from_fields,
    record_fields,
    to_bytes,
    to_fields,
)
from eyefind.record.files import set_aside, write_bytes
from eyefind.record.salvage import salvage

ENDING = ".eyefind.json"
LONGEST_NAME = 200
"""Longest name of a photo, bytes. File systems take 255 (POSIX.1-2017 leaves it to
them; ext4, APFS and NTFS are alike here); our longest addition, an unfinished copy of
a damaged record, takes some 46."""


class DamagedRecordError(RecordError):
    """The record is not whole; `salvage` may read parts of it."""


@dataclass(frozen=True)
class Stored:
    """A record as it lies on disk, read once to be added to while the file is held.

    Attributes
    ----------
    path : Path
        The file.
    fields : dict
        All its fields, those that this version does not know too.
    record : Record
        What this version knows of them.
    """

    path: Path
    fields: Fields
    record: Record


def record_path(photo_path: Path, out: Path | None = None) -> Path:
    """Say where the record of a photo lies.

    ``NAME.eyefind.json``, NAME being the photo's name without its ending. When that
    record belongs to another photo of the same NAME (``IMG_7.jpg`` beside
    ``IMG_7.heic``), it is ``IMG_7.heic.eyefind.json``: the first photo looked at
    keeps the short name for good.

    Parameters
    ----------
    photo_path : Path
        The photo.
    out : Path, optional
        Folder of the records; that of the photo when not given.

    Returns
    -------
    Path
        The record's path, whether or not it exists yet.

    Raises
    ------
    PhotoError
        If the photo's name leaves no room for the endings that we add.
    """
    length = len(os.fsencode(photo_path.name))
    if length > LONGEST_NAME:
        raise PhotoError(
            f"The name of {photo_path} is too long: {length} bytes, and record and "
            f"sheet add their own endings to it. {LONGEST_NAME} bytes are the most.",
            "Give the photo a shorter name.",
        )
    folder = photo_path.parent if out is None else out
    long = folder / f"{photo_path.name}{ENDING}"
    short = folder / f"{photo_path.stem}{ENDING}"
    if long.exists() or (short.exists() and not _belongs(short, photo_path)):
        return long
    return short


def read_record(path: Path) -> Record:
    """Read a record.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    Record
        Its content; fields that this version does not know are passed over.

    Raises
    ------
    RecordError
        If there is no such file, it cannot be opened, it is damaged
        (`DamagedRecordError`) or a newer eyefind wrote it.
    """
    return open_record(path).record


def open_record(path: Path) -> Stored:
    """Read a record with all its fields, to add to it; raises as `read_record`."""
    fields = _read_fields(path)
    return Stored(path, fields, _to_record(path, fields))


def write_record(record: Record, path: Path) -> None:
    """Write a record in one step; a crash leaves the old file or the new one.

    Fields of the old file's top level that this version does not know are kept. A
    damaged old file is copied to ``NAME.eyefind.json.damaged-1`` first.

    Parameters
    ----------
    record : Record
        What to write.
    path : Path
        Where to.

    Raises
    ------
    RecordError
        If the file there was written by a newer eyefind, belongs to another picture
        or holds decisions that `record` lacks. It is left as it is.
    WriteError
        If it cannot be written.
    ValueError
        If a number in `record` is not finite.
    """
    fields = record_fields(record)
    if path.exists():
        try:
            old = open_record(path).fields
        except DamagedRecordError:
            set_aside(path)
        else:
            _check_replaces(path, old, fields)
            fields = {**fields, **{k: v for k, v in old.items() if k not in fields}}
    write_bytes(path, to_bytes(fields))


def add_decisions(
    stored: Stored, decisions: Sequence[Decision], flags: Sequence[Flag] = ()
) -> Record:
    """Add decisions, and the flags that they add, to the record on disk.

    The stored plan knows nothing of the new decisions, so it leaves. Everything else
    in the file stays, unknown fields too. On return the decisions are on the disk.

    Parameters
    ----------
    stored : Stored
        The record, read since its file is held.
    decisions : sequence of Decision
        The words, oldest first.
    flags : sequence of Flag
        Flags that the grower added.

    Returns
    -------
    Record
        The record as it now is on disk.

    Raises
    ------
    WriteError
        If it cannot be written; it is then unchanged.
    """
    fields, record = stored.fields, stored.record
    new_flags = [to_fields(flag) for flag in flags]
    new_words = [to_fields(decision) for decision in decisions]
    write_bytes(
        stored.path,
        to_bytes(
            {
                **fields,
                "decisions": [*fields.get("decisions", []), *new_words],
                "flags": [*fields["flags"], *new_flags],
                "version": VERSION,
                "plan": None,
            }
        ),
    )
    return replace(
        record,
        decisions=[*record.decisions, *(from_fields(w, Decision) for w in new_words)],
        flags=[*record.flags, *(from_fields(new, Flag) for new in new_flags)],
        plan=None,
    )


def put_plan(path: Path, plan: Plan, decisions: list[Decision]) -> Record:
    """Put a plan into the record on disk.

    Parameters
    ----------
    path : Path
        The record.
    plan : Plan
        The plan.
    decisions : list of Decision
        Those that the plan was made from.

    Returns
    -------
    Record
        The record as it now is on disk.

    Raises
    ------
    RecordError
        If the record cannot be read or was answered in the meantime.
    WriteError
        If it cannot be written; it is then unchanged.
    """
    stored = open_record(path)
    if stored.record.decisions != decisions:
        raise _answered_meanwhile(path)
    fields = {**stored.fields, "version": VERSION, "plan": to_fields(plan)}
    write_bytes(path, to_bytes(fields))
    return replace(stored.record, plan=plan)


def check_same_photo(
    facts: PhotoFacts, path: Path, photo_path: Path, sha256: str
) -> None:
    """Make sure that a record was written for this very picture.

    Parameters
    ----------
    facts : PhotoFacts
        What the record says of its photo.
    path, photo_path : Path
        Where the record and the photo lie, for the message.
    sha256 : str
        Hash of the photo's bytes.

    Raises
    ------
    RecordError
        If the picture is another one.
    """
    if facts.sha256 != sha256:
        raise RecordError(
            f"{photo_path} is not the picture that {path} was written for: either "
            f"that was another photo called {facts.file}, in another folder, or this "
            "photo has changed since.",
            "The record and its answers are kept as they are. For a second photo of "
            "that name give another folder with --out, or rename the photo. If it "
            "has changed, put the former picture back; to start anew, move the record "
            "to another folder.",
        )


def _read_fields(path: Path) -> Fields:
    try:
        fields = msgspec.json.decode(path.read_bytes())
    except FileNotFoundError as error:
        raise RecordError(
            f"There is no record {path}.", "Make one with: eyefind look PHOTO"
        ) from error
    except OSError as error:
        raise RecordError(
            f"{path} cannot be opened: {error.strerror or error}.",
            "Check that the file may be read.",
        ) from error
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise _damaged(path, error) from error
    version = fields.get("version") if isinstance(fields, dict) else None
    if not isinstance(fields, dict) or fields.get("format") != FORMAT:
        raise _damaged(path, f'"format" is not "{FORMAT}"')
    if not isinstance(version, int) or version < 1:
        raise _damaged(path, '"version" is not a number from 1')
    if version > VERSION:
        raise RecordError(
            f"{path} was written by a newer eyefind (record version {version}; this "
            f"one knows version {VERSION}).",
            "It was left as it is. Install the newer eyefind to go on with it.",
        )
    return fields


def _to_record(path: Path, fields: Fields) -> Record:
    try:
        return from_fields(fields, Record)
    except msgspec.ValidationError as error:
        raise _damaged(path, error) from error


def _check_replaces(path: Path, old: Fields, new: Fields) -> None:
    if old["photo"]["sha256"] != new["photo"]["sha256"]:
        raise RecordError(
            f"{path} belongs to another picture, {old['photo']['file']}.",
            "It was left as it is. Move it to another folder, or give another one "
            "with --out.",
        )
    known = [from_fields(word, Decision) for word in old.get("decisions", [])]
    coming = [from_fields(word, Decision) for word in new["decisions"]]
    if coming[: len(known)] != known:
        raise _answered_meanwhile(path)


def _answered_meanwhile(path: Path) -> RecordError:
    return RecordError(
        f"{path} was answered by another program in the meantime.",
        "Those answers are kept. Run the same command again.",
    )


def _damaged(path: Path, why: object) -> DamagedRecordError:
    return DamagedRecordError(
        f"{path} is damaged: {why}.",
        "Run: eyefind look PHOTO. It keeps every answer that can still be read and "
        "sets the damaged file aside.",
    )


def _belongs(path: Path, photo_path: Path) -> bool:
    """Tell whether the record at `path` is that of this photo, perhaps renamed."""
    try:
        photo = read_record(path).photo
    except DamagedRecordError:
        saved = salvage(path).photo
        if saved is None:
            return True
        photo = saved
    except RecordError:
        return True
    if _same_name(photo.file, photo_path.name):
        return True
    try:
        with photo_path.open("rb") as file:
            return file_digest(file, "sha256").hexdigest() == photo.sha256
    except OSError:
        return False


def _same_name(one: str, other: str) -> bool:
    return unicodedata.normalize("NFC", one) == unicodedata.normalize("NFC", other)
