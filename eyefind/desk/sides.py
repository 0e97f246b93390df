"""Another side of the clump before: which clump that is, and what is suggested."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from PIL.Image import Image

from eyefind.data import Photo, Record
from eyefind.desk.queue import Entry
from eyefind.errors import EyefindError
from eyefind.photo import read_photo
from eyefind.record import read_record, record_path
from eyefind.review import in_force, sides_in_force
from eyefind.sheet.both import draw_both
from eyefind.sides import Suggestion, suggest
from eyefind.sides.match import MOST_PHOTOS


@dataclass(frozen=True, eq=False)
class Before:
    """The clump before, of which the shown photo may be another side.

    Attributes
    ----------
    name : str
        Its photo's name without ending.
    path, photo_path : Path
        Its record and its photo.
    main, side : Record
        What is known of it and of the shown photo, as it is in force.
    found : Suggestion
        Which tuber is which.
    """

    name: str
    path: Path
    photo_path: Path
    main: Record
    side: Record
    found: Suggestion

    def picture(self, side_photo: Photo) -> Image:
        """Draw both photos beside each other, their tubers named."""
        main = read_photo(self.photo_path), self.main
        return draw_both([main, (side_photo, self.side)])


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
    photos: dict[Path, Path] = {}
    for entry in entries[max(index - MOST_PHOTOS + 1, 0) : index]:
        path = record_path(entry.photo_path, out)
        try:
            known[path], photos[path] = read_record(path), entry.photo_path
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
    main, name = in_force(known[path]), Path(known[path].photo.file).stem
    found = suggest(main.anatomy, shown.anatomy)
    return Before(name, path, photos[path], main, shown, found)
