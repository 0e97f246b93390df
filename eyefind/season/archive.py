"""A whole season as one zip file, and back."""

import json
import shutil
import tempfile
import zipfile
import zlib
from hashlib import file_digest, sha256
from pathlib import Path, PurePosixPath, PureWindowsPath

from eyefind.errors import RecordError, UsageError, WriteError
from eyefind.season import LEDGER_NAME
from eyefind.season.ledger import Ledger
from eyefind.season.tables import ClumpPhoto, Season
from eyefind.season.trouble import LedgerError

ZIPPED_LEDGER = "ledger.eyefind.db"
"""The ledger's name in the zip file."""
LIST_NAME = "content.json"
FORMAT, VERSION = "eyefind-season", 1
DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    KeyError,
    ValueError,
    AttributeError,
    TypeError,
    EOFError,
    RuntimeError,
)
"""What `zipfile` and `json` raise for files that are damaged or none of ours."""


def pack(ledger: Ledger, season: Season, path: Path, photos: bool = True) -> int:
    """Put a season into one zip file: the ledger, the records and the photos.

    Parameters
    ----------
    ledger : Ledger
        The ledger; all its seasons go with it.
    season : Season
        The season whose records and photos are packed.
    path : Path
        The file.
    photos : bool
        Whether the photos go with it.

    Returns
    -------
    int
        How many files it holds.

    Raises
    ------
    WriteError
        If it cannot be written; an older file is then unchanged.
    """
    rows = ledger.rows(ClumpPhoto, "season_id = ?", season.id)
    wanted: dict[str, Path] = {}
    for row in rows:
        sources = [Path(row.record_path)] if row.record_path else []
        sources += [Path(row.path)] if photos else []
        for source in filter(Path.is_file, sources):
            wanted[f"photos/{row.id}/{source.name}"] = source
    part = path.with_name(f".{path.name}.eyefind-part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with (
            tempfile.TemporaryDirectory() as folder,
            zipfile.ZipFile(part, "w") as file,
        ):
            copy = Path(folder) / ZIPPED_LEDGER
            ledger.backup(copy)
            content = {}
            for name, source in {ZIPPED_LEDGER: copy, **wanted}.items():
                data = source.read_bytes()
                content[name] = sha256(data).hexdigest()
                # Photos are packed already.
                how = zipfile.ZIP_STORED if _is_photo(name) else zipfile.ZIP_DEFLATED
                file.writestr(name, data, how)
            head = {"format": FORMAT, "version": VERSION, "year": season.year}
            file.writestr(LIST_NAME, json.dumps({**head, "sha256": content}, indent=1))
        part.replace(path)
    except OSError as error:
        raise WriteError(
            f"{path} cannot be written: {error.strerror or error}.",
            "Make room on the disk or choose another folder.",
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return len(wanted) + 1


def unpack(path: Path, folder: Path) -> Path:
    """Bring back a season from its zip file into a new folder.

    Parameters
    ----------
    path : Path
        The zip file.
    folder : Path
        A folder that is empty or not there yet.

    Returns
    -------
    Path
        The ledger, which knows the photos and records in their new place.

    Raises
    ------
    UsageError
        If the folder holds something.
    RecordError
        If the zip file is damaged or none of ours; nothing is left behind.
    WriteError
        If a file cannot be written.
    """
    if folder.exists() and any(folder.iterdir()):
        raise UsageError(
            f"{folder} is not empty.", "Give a new folder: nothing is ever overwritten."
        )
    part = folder.with_name(f".{folder.name}.eyefind-part")
    try:
        _extract(path, part)
        (part / ZIPPED_LEDGER).rename(part / LEDGER_NAME)
        if folder.exists():
            folder.rmdir()
        part.rename(folder)
    except DAMAGE as error:
        raise _unusable(path, error) from error
    except OSError as error:
        raise WriteError(
            f"{path} cannot be brought back to {folder}: {error.strerror or error}.",
            "Make room on the disk or choose another folder.",
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    with Ledger(folder / LEDGER_NAME) as ledger:
        _move(ledger, folder.resolve())
    return folder / LEDGER_NAME


def _extract(path: Path, folder: Path) -> None:
    """Write all files of a zip, comparing each with its hash."""
    with zipfile.ZipFile(path) as file:
        listed = json.loads(file.read(LIST_NAME))
        if listed.get("format") != FORMAT or listed.get("version", 0) > VERSION:
            raise ValueError("it is no season, or one of a newer eyefind")
        hashes = listed["sha256"]
        if ZIPPED_LEDGER not in hashes:
            raise ValueError("it has no ledger")
        for name, expected in hashes.items():
            parts = PurePosixPath(name).parts
            if ".." in parts or PurePosixPath(name).is_absolute() or "\\" in name:
                raise ValueError(f"{name} would lie outside")
            place = folder / name
            place.parent.mkdir(parents=True, exist_ok=True)
            with file.open(name) as source, place.open("wb") as goal:
                shutil.copyfileobj(source, goal)
            with place.open("rb") as goal:
                if file_digest(goal, "sha256").hexdigest() != expected:
                    raise ValueError(f"{name} is not as it was packed")


def _move(ledger: Ledger, folder: Path) -> None:
    with ledger.refreshing() as deed:
        for row in ledger.rows(ClumpPhoto):
            here = folder / "photos" / str(row.id)
            if here.is_dir():
                record = row.record_path and here / _name(row.record_path)
                deed.change(
                    row,
                    path=str(here / _name(row.path)),
                    record_path=str(record) if record else None,
                )


def _name(path: str) -> str:
    """Return a file's name; the path may have been written on another system."""
    kind = PurePosixPath if path.startswith("/") else PureWindowsPath
    return kind(path).name


def _is_photo(name: str) -> bool:
    return not name.endswith((".json", ".db"))


def _unusable(path: Path, why: object) -> RecordError:
    return LedgerError(
        f"{path} cannot be brought back: {why}.",
        "Nothing was written. Try an older copy.",
    )
