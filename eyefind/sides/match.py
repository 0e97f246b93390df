"""Taking the grower's word that another photo shows the same clump."""

from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
from shapely import Point

from eyefind.data import Anatomy, Record, Scale, Side
from eyefind.errors import UsageError
from eyefind.look.mend import tuber_at
from eyefind.record import add_decisions, hold, open_record, read_record
from eyefind.review import in_force, sides_in_force
from eyefind.review.review import new_word
from eyefind.sides.pairs import Pairs

MOST_PHOTOS: Final = 6
"""Photos of one clump that are planned together, the main one included."""


def match(main_path: Path, side_path: Path, pairs: Pairs, by: str) -> Record:
    """Keep which photo shows another side of a clump, and which tuber is which.

    Parameters
    ----------
    main_path, side_path : Path
        The two records, in one folder.
    pairs : dict of str to str
        Tuber of the main photo -> tuber of the other one, ids as they are in force;
        empty to say that it is no side of this clump.
    by : str
        Who says it.

    Returns
    -------
    Record
        The main record as it now is on disk.

    Raises
    ------
    UsageError
        If it is the main photo itself or one photo too many, or the records lie in
        two folders.
    RecordError, WriteError
        If a record cannot be read or written.
    """
    side = read_record(side_path)
    if side_path.parent.resolve() != main_path.parent.resolve():
        raise UsageError(
            f"{side_path} and {main_path} lie in two folders.",
            "Keep the records of one clump in one folder (--out).",
        )
    with hold(main_path):
        stored = open_record(main_path)
        main = stored.record
        _check(main, side)
        shown, other = in_force(main), in_force(side)
        places_px = [
            (
                *_place_of(ours, shown.anatomy, main.scale),
                *_place_of(theirs, other.anatomy, side.scale),
            )
            for ours, theirs in pairs.items()
        ]
        told = Side(side.photo.file, side.photo.sha256, side_path.name, places_px)
        word = replace(new_word("", "matched", by), side=told)
        return add_decisions(stored, [word])


def _check(main: Record, side: Record) -> None:
    if side.photo.sha256 == main.photo.sha256:
        raise UsageError(
            f"{side.photo.file} is the main photo itself.",
            "Name a photo of another side.",
        )
    others = {other.sha256 for other in sides_in_force(main.decisions)}
    if len(others | {side.photo.sha256}) >= MOST_PHOTOS:
        raise UsageError(
            f"{main.photo.file} has {len(others)} other sides already.",
            f"At most {MOST_PHOTOS} photos of one clump are planned together.",
        )


def _place_of(name: str, anatomy: Anatomy, scale: Scale) -> tuple[float, float]:
    """Return a place that means this tuber even where others lie over it."""
    tuber = next(tuber for tuber in anatomy.tubers if tuber.id == name)
    middle_first = np.argsort(
        np.abs(np.arange(len(tuber.axis_px)) - len(tuber.axis_px) // 2)
    )
    places = [(float(row), float(col)) for row, col in tuber.axis_px[middle_first]]
    for place in places:
        if tuber_at(anatomy, Point(place), scale) is tuber:
            return place
    raise UsageError(
        f"{name} lies wholly under other tubers there.",
        "Put right what lies where (page Put right), then match again.",
    )
