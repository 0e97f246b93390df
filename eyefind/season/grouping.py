"""Which photos show one clump: by card code, else by file name, else by time.

A camera names photos by a counter or the time (``IMG_0301``): that tells nothing of a
clump. A name that the grower gave (``bed 3``, ``bed 3 (2)``) does.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import PurePath

from eyefind.season.tables import PlacedBy

COPY = re.compile(r"(?P<name>.+?)[-_ ]*\(\d{1,2}\)")
"""A name with a number in brackets, as computers give to a further file of a name.
A number without them may as well be that of a clump."""
CAMERA = re.compile(
    r".*\d{3}.*|(img|dsc\w?|pxl|p|photo|image|mvimg)?[-_ ]*[\d\-_ ]*", re.IGNORECASE
)
"""Names that cameras give."""


@dataclass(frozen=True)
class Seen:
    """What is known of a photo before its clump is.

    Attributes
    ----------
    path : str
        The photo.
    taken_at : str or None
        ISO 8601 time from the file.
    code : str or None
        Code of the card in view.
    """

    path: str
    taken_at: str | None = None
    code: str | None = None

    @property
    def stem(self) -> str:
        """Its file name without the ending."""
        return PurePath(self.path).stem


@dataclass(frozen=True)
class Group:
    """Photos of one clump.

    Attributes
    ----------
    name : str
        The code; else the name that the grower gave; else the first photo's name.
    code : str or None
        Code of the card.
    photos : list of (Seen, str)
        The photos, each with how it came here.
    """

    name: str
    code: str | None
    photos: list[tuple[Seen, PlacedBy]]


def group_photos(photos: Sequence[Seen], gap_s: float) -> list[Group]:
    """Group photos into clumps.

    Photos with one code are of one clump, wherever they lie in time. A photo without
    a code goes by its name, if the grower gave it one; else it belongs to the photo
    just before it when the two were taken within `gap_s` of each other.

    Parameters
    ----------
    photos : sequence of Seen
        The photos, in any order.
    gap_s : float
        Longest time between two photos of one clump, s.

    Returns
    -------
    list of Group
        In the order in which their first photos were taken.
    """
    groups: dict[str, Group] = {}
    last: tuple[Group, Seen] | None = None
    ordered = sorted(photos, key=lambda p: (p.taken_at or "", PurePath(p.path).name))
    for photo in ordered:
        key, placed_by = _key(photo)
        if placed_by == "alone" and last is not None and _soon(last[1], photo, gap_s):
            group, placed_by = last[0], "time"
        else:
            code = photo.code if placed_by == "code" else None
            name = photo.stem if placed_by == "alone" else key
            group = groups.setdefault(key, Group(name, code, []))
        group.photos.append((photo, placed_by))
        last = group, photo
    return list(groups.values())


def _key(photo: Seen) -> tuple[str, PlacedBy]:
    if photo.code:
        return photo.code, "code"
    copy = COPY.fullmatch(photo.stem)
    name = photo.stem if copy is None else copy["name"]
    return (photo.path, "alone") if CAMERA.fullmatch(name) else (name, "name")


def _soon(one: Seen, other: Seen, gap_s: float) -> bool:
    if one.taken_at is None or other.taken_at is None:
        return False
    try:
        # Offsets are left out: two photos of one camera have the same, or one has none.
        before, after = (
            datetime.fromisoformat(seen.taken_at or "").replace(tzinfo=None)
            for seen in (one, other)
        )
    except ValueError:
        return False
    return after - before <= timedelta(seconds=gap_s)
