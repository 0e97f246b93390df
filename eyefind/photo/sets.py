"""Which photos of a folder are one lamp set: the same view, taken within minutes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import numpy as np

from eyefind.data import Pixels
from eyefind.errors import PhotoError
from eyefind.photo.reading import read_small, taken_at
from eyefind.photo.register import register
from eyefind.photo.set_names import MOST_FRAMES
from eyefind.photo.shading import shading_change
from eyefind.rules import Rules

SMALL_PX = 500
"""Long side at which views are compared."""
MIDDLE = 0.1
"""Share of the picture on each side that is passed over: the clump lies inside."""
MOST_MISFIT = 0.006
"""Misfit of one view, as a share of the picture's long side."""
LEAST_LIKENESS = 0.8
"""Correlation of the edges of one view under two lamps; two clumps stay below."""


@dataclass(frozen=True)
class PhotoSet:
    """Photos of one view: the main one, and further ones with the lamp elsewhere."""

    main: Path
    others: list[Path] = field(default_factory=list)

    @property
    def photos(self) -> list[Path]:
        """All of them, the main one first."""
        return [self.main, *self.others]


def find_sets(
    photos: Sequence[Path],
    rules: Rules,
    is_taken: Callable[[Path], bool] = lambda path: False,
) -> list[PhotoSet]:
    """Put photos that show one view under a moved lamp into sets.

    Photos belong together when each was taken within ``lamp_set_gap_s`` of the one
    before, shows the same view, and its shading differs from the main one's. The
    first photo is the main one.

    Parameters
    ----------
    photos : sequence of Path
        The photos.
    rules : Rules
        ``lamp_set_gap_s`` and ``lamp_set_change`` are used.
    is_taken : callable
        Says of a photo that it stands for itself, such as one with a record.

    Returns
    -------
    list of PhotoSet
        All photos, each once; most often sets of one. In the order of `photos`.
    """
    sets = [PhotoSet(photo) for photo in photos]
    times = {photo: _moment(photo) for photo in photos}
    timed = [one for one in sets if times[one.main] is not None]
    timed.sort(key=lambda one: (times[one.main], one.main.name))
    swallowed: set[Path] = set()
    current, before = None, 0.0
    for one in timed:
        at = times[one.main] or 0.0
        near = current is not None and at - before <= rules.value("lamp_set_gap_s")
        before = at
        if current is not None and near and not is_taken(one.main):
            room = len(current.others) < MOST_FRAMES - 1
            if room and _is_same_view(current.main, one.main, rules):
                current.others.append(one.main)
                swallowed.add(one.main)
                continue
        current = one
    return [one for one in sets if one.main not in swallowed]


def _moment(photo: Path) -> float | None:
    """Return when a photo was taken, s; the camera's own clock, whatever its zone."""
    written = taken_at(photo)
    if written is None:
        return None
    return datetime.fromisoformat(written).replace(tzinfo=None).timestamp()


def _is_same_view(main: Path, other: Path, rules: Rules) -> bool:
    try:
        one, two = (read_small(path, SMALL_PX) for path in (main, other))
    except PhotoError:
        return False
    return is_same_view(one, two, rules)


def is_same_view(main: Pixels, other: Pixels, rules: Rules) -> bool:
    """Tell whether two small pictures show one view under a moved lamp.

    Parameters
    ----------
    main, other : (h, w, 3) uint8 arrays
        Pictures of some 500 px.
    rules : Rules
        ``lamp_set_change`` is used.

    Returns
    -------
    bool
        False also when the lamp did not move: such photos stand for themselves.
    """
    if main.shape != other.shape:
        return False
    height, width = main.shape[:2]
    middle = np.zeros((height, width), bool)
    down, right = round(MIDDLE * height), round(MIDDLE * width)
    middle[down:-down, right:-right] = True
    fit = register(main, other, middle)
    return (
        fit.residual_px <= MOST_MISFIT * max(height, width)
        and fit.likeness >= LEAST_LIKENESS
        and shading_change(main, other, middle) >= rules.value("lamp_set_change")
    )
