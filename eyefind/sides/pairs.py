"""Pairs of tubers as the grower writes and reads them: ``T1=T3, T2=T4``."""

import re

from eyefind.data import Anatomy
from eyefind.errors import UsageError

Pairs = dict[str, str]
"""Tuber of the main photo -> tuber of the photo of another side."""


def read_pairs(text: str, main: Anatomy, side: Anatomy) -> Pairs:
    """Read pairs of tubers.

    Parameters
    ----------
    text : str
        ``"T1=T3, T2=T4"``: the first of each is a tuber of the main photo.
    main, side : Anatomy
        The tubers of the two photos.

    Returns
    -------
    dict of str to str
        Tuber of the main photo -> tuber of the other one.

    Raises
    ------
    UsageError
        If a pair is not understood, a tuber is not there or is named twice.
    """
    pairs: Pairs = {}
    for word in filter(None, re.split(r"[,;\s]+", re.sub(r"\s*=\s*", "=", text))):
        ours, _, theirs = word.upper().partition("=")
        known = (
            ours in {tuber.id for tuber in main.tubers},
            theirs in {tuber.id for tuber in side.tubers},
        )
        if not all(known):
            where = "the other side" if known[0] else "the main photo"
            raise UsageError(
                f"'{word}' is not understood: {where} has no such tuber.",
                "Nothing was written. A pair reads for example: T1=T3, the tuber of "
                "the main photo first.",
            )
        if ours in pairs or theirs in pairs.values():
            raise UsageError(
                f"A tuber of {word} is named twice.",
                "Nothing was written. A tuber has one partner.",
            )
        pairs[ours] = theirs
    return pairs


def pair_words(pairs: Pairs) -> str:
    """Return pairs as `read_pairs` reads them."""
    return ", ".join(f"{ours}={theirs}" for ours, theirs in pairs.items())
