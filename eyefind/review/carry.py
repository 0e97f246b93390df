"""Carrying decisions over when a photo is looked at again.

Decisions name flags by id, and the list of decisions is never rewritten. So a flag
that is found again keeps its old id, and ids are never used twice.
"""

from dataclasses import replace
from itertools import count

import numpy as np

from eyefind.data import Anatomy, Decision, Flag, Kind

SAME_PLACE_MM = 3.0
"""Flags of one kind nearer than this are one thing (the distance within which an eye
counts as found)."""
SAME_PLACE_SIZES = 0.25
"""Larger things (a spent parent, a rat's tail) may move by this share of their
length, as their outline is drawn anew."""


def carry_over(
    old: list[Flag],
    decisions: list[Decision],
    found: list[Flag],
    anatomy: Anatomy,
    px_per_mm: float,
) -> list[Flag]:
    """Give the flags of a new look the ids of the old ones where they are the same.

    Old flags that have a word are kept even when they were not found again; so are
    those that the grower added.

    Parameters
    ----------
    old : list of Flag
        Flags of the record.
    decisions : list of Decision
        Decisions of the record.
    found : list of Flag
        Flags of the new look.
    anatomy : Anatomy
        Parts of the new look; kept flags are tied to its tubers.
    px_per_mm : float
        Scale of the new look.

    Returns
    -------
    list of Flag
        The new flags, then the kept old ones.
    """
    spoken = {word.flag for word in decisions if word.flag}
    if not spoken:
        return found
    same = _match(old, found, px_per_mm)
    taken = {flag.id for flag in old} | spoken
    flags = []
    for index, flag in enumerate(found):
        former = same.get(index)
        if former is None:
            flags.append(replace(flag, id=next_id(flag.id[0], taken)))
            taken.add(flags[-1].id)
        elif former.origin == "found":
            flags.append(replace(flag, id=former.id))
    again = {flag.id for flag in flags}
    for flag in old:
        if flag.id in spoken and flag.id not in again:
            tuber = nearest_tuber(anatomy, flag.kind, flag.row_px, flag.col_px)
            flags.append(replace(flag, belongs_to=tuber))
    return flags


def next_id(letter: str, taken: set[str]) -> str:
    """Return the first id of this letter that was never used: ``"G1"``, ``"G2"``."""
    return next(name for n in count(1) if (name := f"{letter}{n}") not in taken)


def nearest_tuber(
    anatomy: Anatomy, kind: Kind, row_px: float, col_px: float
) -> str | None:
    """Say which tuber a thing at this place belongs to.

    Parameters
    ----------
    anatomy : Anatomy
        The parts of the clump.
    kind : str
        An eye belongs to the tuber whose neck is nearest (tuber-on-tuber has none);
        anything else to the tuber whose axis is nearest.
    row_px, col_px : float
        The place in the full upright photo.

    Returns
    -------
    str or None
        Id of the tuber; None when there is none.
    """
    hosts = {tuber.id for tuber in anatomy.tubers}
    places = {
        tuber.id: tuber.neck_rc_px[None] if kind == "eye" else tuber.axis_px
        for tuber in anatomy.tubers
        if kind != "eye" or tuber.attached_to not in hosts
    }
    here = np.array([row_px, col_px])
    return min(
        places,
        key=lambda name: float(np.linalg.norm(places[name] - here, axis=1).min()),
        default=None,
    )


def _match(old: list[Flag], found: list[Flag], px_per_mm: float) -> dict[int, Flag]:
    """Pair new flags (by index) with old ones of their kind, the nearest first."""
    pairs = []
    for index, new in enumerate(found):
        for former in old:
            apart_mm = (
                np.hypot(new.row_px - former.row_px, new.col_px - former.col_px)
                / px_per_mm
            )
            reach_mm = SAME_PLACE_MM
            if new.kind != "eye":
                reach_mm = max(reach_mm, SAME_PLACE_SIZES * former.size_mm)
            if new.kind == former.kind and apart_mm <= reach_mm:
                pairs.append((float(apart_mm), index, former))
    same: dict[int, Flag] = {}
    used: set[str] = set()
    for _, index, former in sorted(pairs, key=lambda pair: pair[:2]):
        if index not in same and former.id not in used:
            same[index] = former
            used.add(former.id)
    return same
