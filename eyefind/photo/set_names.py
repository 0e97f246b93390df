"""Lamp sets by name: ``NAME.jpg`` and beside it ``NAME-lamp2.jpg``, ``NAME-lamp3.jpg``.

Also where photos are told from other files.
"""

import re
from collections.abc import Sequence
from pathlib import Path

from eyefind.data import FrameFacts

SUFFIXES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif")
"""Endings by which photos are found in a folder, in lower case."""
FURTHER = re.compile(r"(?P<name>.+)-lamp(?P<number>[2-9])", re.IGNORECASE)
"""Names, without ending, of the further frames of a set."""
MOST_FRAMES = 4
"""More frames tell hardly more and take the grower's time."""


def main_of(path: Path) -> Path | None:
    """Return the main frame that a photo's name makes it a further frame of.

    Parameters
    ----------
    path : Path
        The photo.

    Returns
    -------
    Path or None
        ``NAME.*`` for ``NAME-lamp2.*`` if that photo lies beside it, else None.
    """
    named = FURTHER.fullmatch(path.stem)
    return None if named is None else _beside(path, named["name"])


def frames_beside(main: Path) -> list[Path]:
    """Return the further frames that lie beside a main frame, by number.

    Parameters
    ----------
    main : Path
        The main frame.

    Returns
    -------
    list of Path
        ``NAME-lamp2.*`` and on; empty when the photo stands alone.
    """
    names = [f"{main.stem}-lamp{number}" for number in range(2, MOST_FRAMES + 1)]
    found = [_beside(main, name) for name in names]
    return [path for path in found if path is not None]


def further_frames(
    main: Path, named: Sequence[Path], former: Sequence[FrameFacts] = ()
) -> list[Path]:
    """Say which photos are the further frames of a main one.

    Parameters
    ----------
    main : Path
        The main frame.
    named : sequence of Path
        Those that the grower, or the folder, names.
    former : sequence of FrameFacts
        Those of an earlier record.

    Returns
    -------
    list of Path
        The named ones; else those beside it by name; else the former ones that are
        still there.
    """
    if found := list(named) or frames_beside(main):
        return found
    before = [main.with_name(frame.photo.file) for frame in former]
    return [path for path in before if path.is_file()]


def lacks_frames(facts: Sequence[FrameFacts], frames: Sequence[Path]) -> bool:
    """Tell whether a record with these further frames names not all of a set.

    Parameters
    ----------
    facts : sequence of FrameFacts
        The record's.
    frames : sequence of Path
        The further frames of the set, without the main one.

    Returns
    -------
    bool
        True when the photo must be looked at again with all of them.
    """
    known = {fact.photo.file for fact in facts}
    return any(frame.name not in known for frame in frames)


def _beside(path: Path, stem: str) -> Path | None:
    """Find the photo of this stem in the same folder, first by the same ending."""
    for suffix in (path.suffix, *SUFFIXES, *(s.upper() for s in SUFFIXES)):
        other = path.with_name(f"{stem}{suffix}")
        if other.is_file():
            return other
    return None
