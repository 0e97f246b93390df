"""Another side of the clump before: which clump that is, and what is suggested."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from eyefind.data import Anatomy, Record
from eyefind.desk.queue import Entry
from eyefind.errors import EyefindError
from eyefind.record import read_record, record_path
from eyefind.review import in_force, sides_in_force
from eyefind.sides import Suggestion, suggest
from eyefind.sides.match import MOST_PHOTOS


@dataclass(frozen=True, eq=False)
class Before:
    """The clump before, of which the shown photo may be another side.

    Attributes
    ----------
    name : str
        Its photo's name without ending.
    path : Path
        Its record.
    main, side : Anatomy
        What lies where on its photo and on the shown one, as it is in force.
    found : Suggestion
        Which tuber is which.
    """

    name: str
    path: Path
    main: Anatomy
    side: Anatomy
    found: Suggestion


def clump_before(
    entries: Sequence[Entry], index: int, out: Path | None, shown: Record
) -> Before | None:
    """Return the nearest clump before the shown one that is itself no other side.

    Parameters
    ----------
    entries : sequence of Entry
        The queue.
    index : int
        The entry that is shown.
    out : Path or None
        Folder of the records; beside the photo when None.
    shown : Record
        The shown one, with anatomy in force.

    Returns
    -------
    Before or None
        None when no clump before it was looked at.
    """
    known: dict[Path, Record] = {}
    for entry in entries[max(index - MOST_PHOTOS + 1, 0) : index]:
        path = record_path(entry.photo_path, out)
        try:
            known[path] = read_record(path)
        except EyefindError:
            continue  # Not looked at yet, or refused.
    sides = {
        side.sha256
        for record in known.values()
        for side in sides_in_force(record.decisions)
    }
    mains = [path for path in known if known[path].photo.sha256 not in sides]
    if not mains:
        return None
    path = mains[-1]
    main, name = in_force(known[path]).anatomy, Path(known[path].photo.file).stem
    return Before(name, path, main, shown.anatomy, suggest(main, shown.anatomy))
