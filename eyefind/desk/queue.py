"""The clumps to go through, and how far each one is."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

from eyefind.data import Record
from eyefind.errors import EyefindError, PhotoError
from eyefind.photo import PhotoSet, find_photos, find_sets
from eyefind.record import DamagedRecordError, read_record, record_path
from eyefind.record.store import ENDING
from eyefind.review import flags_in_force, standing
from eyefind.rules import Rules, load_rules

State = Literal["waiting", "reading", "open", "bare", "done", "refused"]

READ: Final[tuple[State, ...]] = ("open", "bare", "done")
"""States of a clump that was looked at and may be answered."""
STATE_WORDS: Final[dict[State, str]] = {
    "waiting": "waiting",
    "reading": "being read ...",
    "open": "open",
    "bare": "nothing flagged: look for yourself",
    "done": "done",
    "refused": "refused",
}


@dataclass
class Entry:
    """One clump of the queue.

    Attributes
    ----------
    photo_path : Path
        Its photo.
    state : str
        ``"waiting"``: not looked at yet; ``"reading"``: is looked at; ``"open"``: has
        flags without an answer; ``"done"``: has none; ``"bare"``: nothing was flagged,
        nor has the grower said anything; ``"refused"``: see `message`.
    message : str
        Why it was refused and what to do.
    left : int
        Flags without an answer.
    frames : list of Path
        Further photos of its lamp set, told by time and view.
    """

    photo_path: Path
    state: State = "waiting"
    message: str = ""
    left: int = 0
    frames: list[Path] = field(default_factory=list)

    @property
    def words(self) -> str:
        """State in words, for the list."""
        if self.state == "open":
            return f"open, {self.left} to answer"
        return STATE_WORDS[self.state]

    def take(self, record: Record) -> None:
        """Read the state off a record."""
        words = standing(record.flags, record.decisions)
        flags = flags_in_force(record.flags, record.decisions)
        self.left = sum(flag.id not in words for flag in flags)
        if self.left:
            self.state = "open"
        else:
            self.state = "done" if flags or record.decisions else "bare"
        self.message = ""

    def refuse(self, error: Exception) -> None:
        """Keep why it cannot be worked on."""
        self.state = "refused"
        if isinstance(error, EyefindError):
            self.message = f"{error.what} {error.advice}"
        else:
            self.message = f"Something inside eyefind went wrong: {error!r}"


def find_clumps(
    paths: Iterable[Path], out: Path | None, rules: Rules | None = None
) -> list[Entry]:
    """List the clumps that the grower named.

    In a folder lamp sets are told by time and view.

    Parameters
    ----------
    paths : iterable of Path
        Photos, folders of photos, or records (their photo must lie beside them).
    out : Path or None
        Folder of the records; beside the photo when None.
    rules : Rules, optional
        The rules of the trade; those that come along when None.

    Returns
    -------
    list of Entry
        Each with its state; of a lamp set the main photo only.

    Raises
    ------
    PhotoError, RecordError
        If a folder or a record cannot be read.
    """
    rules = rules or load_rules()
    sets: dict[Path, PhotoSet] = {}
    for path in paths:
        photos = photos_named(path)
        found = [PhotoSet(photo) for photo in photos]
        if path.is_dir():
            found = find_sets(photos, rules, lambda p: record_path(p, out).exists())
        for one in found:
            sets.setdefault(one.main, one)
    entries = [Entry(one.main, frames=one.others) for one in sets.values()]
    further: set[Path] = set()
    for entry in entries:
        path = record_path(entry.photo_path, out)
        if path.exists():
            try:
                record = read_record(path)
                entry.take(record)
                names = [frame.photo.file for frame in record.frames]
                further.update(entry.photo_path.with_name(name) for name in names)
            except DamagedRecordError:
                continue  # It is looked at anew; that saves what can be saved.
            except EyefindError as error:
                entry.refuse(error)
    # The further frames of a lamp set go with their main photo.
    return [
        entry
        for entry in entries
        if entry.state != "waiting" or entry.photo_path not in further
    ]


def photos_named(path: Path) -> list[Path]:
    """Return the photos that a path names: a photo, a folder of photos or a record.

    Raises
    ------
    PhotoError, RecordError
        If a folder or a record cannot be read.
    """
    if path.name.endswith(ENDING):
        return [_photo_of(path)]
    return find_photos([path])


def folder_of_records(paths: Iterable[Path]) -> Path | None:
    """Return the folder in which records that were named lie, if they share one."""
    folders = {path.parent for path in paths if path.name.endswith(ENDING)}
    return folders.pop() if len(folders) == 1 else None


def _photo_of(path: Path) -> Path:
    photo = path.parent / read_record(path).photo.file
    if not photo.exists():
        raise PhotoError(
            f"The photo {photo.name} of the record {path.name} is not beside it.",
            "Name the photo instead, and the record's folder with --out.",
        )
    return photo
