"""What the sheet says, in words: from the record to plain sentences."""

import re
from pathlib import PurePath
from typing import Final

import numpy as np

from eyefind.data import (
    Anatomy,
    Cut,
    PhotoFacts,
    Piece,
    Points,
    Record,
    Says,
    Scale,
    ScaleSource,
)
from eyefind.rules import Rules

STAMP: Final = "NOT YET REVIEWED"
STAMP_WHY: Final = "Flags still wait for an answer. Answer them before you cut."
ADVICE_ONLY: Final = "This sheet only advises; you decide."

_SCALE_WORDS: Final[dict[ScaleSource, str]] = {
    "card": "from the bench card",
    "two_points": "from the two points you set",
    "typed_width": "from the width you typed",
    "guess": "GUESS: no scale in the photo",
}
_CHANCE_WORDS: Final = (
    (0.99, "almost sure"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "as likely as not"),
    (0.10, "unlikely"),
    (0.0, "very unlikely"),
)
"""Levels and most words as in the IPCC's guidance note on uncertainties (2010)."""
_ID: Final = re.compile(r"\b[A-Z][0-9]+\b")
_ROWS: Final = ("top", "", "bottom")
_COLS: Final = ("left", "", "right")


def clump_name(facts: PhotoFacts) -> str:
    """Return the clump's name: the photo's file name without its ending."""
    return PurePath(facts.file).stem or facts.file


def taken_words(facts: PhotoFacts) -> str:
    """Return when the photo was taken."""
    if not facts.taken_at:
        return "Photo date not known"
    return f"Photo taken {facts.taken_at[:16].replace('T', ', ')}"


def scale_words(scale: Scale) -> str:
    """Return where millimetres come from and how far they may be off."""
    doubt = _with_unit(100 * scale.relative_sd, "%")
    words = f"Sizes {_SCALE_WORDS[scale.source]}, ± {doubt}"
    if scale.source == "guess":
        return f"{words}. Do not trust millimetres here"
    return words


def chance_words(piece: Piece) -> str:
    """Return a piece's chance of at least one eye, in words and percent."""
    if piece.confirmed_eyes:
        return f"sure, {_with_unit(100, '%')}"
    if not piece.eyes:
        return "not known"
    words = next(word for level, word in _CHANCE_WORDS if piece.eye_chance >= level)
    return f"{words}, {_with_unit(100 * piece.eye_chance, '%')}"


def eyes_words(piece: Piece) -> str:
    """Return how many eyes of a piece are confirmed and how many only likely."""
    likely = len(piece.eyes) - piece.confirmed_eyes
    counts = {"confirmed": piece.confirmed_eyes, "likely": likely}
    words = [f"{count} {word}" for word, count in counts.items() if count]
    return ", ".join(words) or "no eye seen"


def tubers_words(piece: Piece) -> str:
    """Return how many tubers a piece has, and which if its letter leaves a doubt."""
    if len(piece.tubers) < 2:
        return f"{len(piece.tubers)}"
    return f"{len(piece.tubers)}: {', '.join(piece.tubers)}"


def size_words(piece: Piece, anatomy: Anatomy) -> str:
    """Return a piece's volume and the measures of its longest tuber."""
    own = [tuber for tuber in anatomy.tubers if tuber.id in piece.tubers]
    if not own:
        return _with_unit(piece.volume_ml, "ml")
    longest = max(own, key=lambda tuber: tuber.length_mm)
    diameter = _with_unit(longest.max_diameter_mm, "mm")
    which = "longest " if len(own) > 1 else ""
    size = f"{which}{longest.length_mm:.0f} × {diameter}"
    return f"{_with_unit(piece.volume_ml, 'ml')}, {size}"


def spoken_of(record: Record, standing: dict[str, Says]) -> set[str]:
    """Return the ids that the picture must show, so that what is said can be found.

    These are the flags without a clear answer, and of a plan all ids that its words
    name and the tubers that share a piece; without a plan all tubers.
    """
    ids = {flag.id for flag in record.flags if standing.get(flag.id) != "confirmed"}
    plan = record.plan
    if plan is None:
        return ids | {tuber.id for tuber in record.anatomy.tubers}
    said = [*plan.warnings, *(piece.note for piece in plan.pieces)]
    said += [f"{cut.purpose} {cut.why}" for cut in plan.cuts]
    said += [f"{discard.what} {discard.why}" for discard in plan.discards]
    shared = [piece.tubers for piece in plan.pieces if len(piece.tubers) > 1]
    return (
        ids | set(_ID.findall(" ".join(said))) | {id_ for own in shared for id_ in own}
    )


def discard_label(number: int) -> str:
    """Return the label of the `number`-th discard, as picture and text show it."""
    return f"OUT {number}"


def cut_words(cut: Cut, record: Record) -> str:
    """Return what to do at a cut: tool, where the blade enters, which way, how long."""
    path = np.reshape(cut.path_px, (-1, 2))
    words = f"{first_upper(cut.tool)}. "
    if len(path) < 2 or not np.isfinite(path).all():
        return words + "Cut at the number."
    place = _place(path[0], record)
    way = _way(path[-1] - path[0])
    length_mm = np.hypot(*np.diff(path, axis=0).T).sum() / record.scale.px_per_mm
    step = 5 if length_mm > 20 else 1
    length = f"about {_with_unit(step * round(length_mm / step), 'mm')}"
    if record.scale.source == "guess":
        length += " (a guess)"
    return f"{words}Enter at the arrow, {place}. Cut {way}, {length}."


def _place(point: Points, record: Record) -> str:
    """Return in which ninth of the clump a point lies."""
    outline = np.reshape(record.anatomy.clump_outline_px, (-1, 2))
    if not len(outline):
        return "as drawn"
    low, high = outline.min(axis=0), outline.max(axis=0)
    ninth = np.clip((point - low) / np.maximum(high - low, 1.0) * 3, 0, 2.999)
    words = f"{_ROWS[int(ninth[0])]} {_COLS[int(ninth[1])]}".strip()
    return f"at the {words or 'middle'}"


def _way(step: Points) -> str:
    """Return the direction of a stroke in the picture."""
    down, right = step / max(float(np.hypot(*step)), 1e-9)
    upright = "up" if down < -0.38 else "down" if down > 0.38 else ""
    across = "left" if right < -0.38 else "right" if right > 0.38 else ""
    return " and ".join(word for word in (upright, across) if word) or "as drawn"


def drying_words(rules: Rules) -> str:
    """Return how long cut faces dry before packing."""
    rule = rules["wound_drying_h"]
    return (
        f"Let the cut faces dry in moving air, about {rule.value:.0f} hours. "
        f"Sources say {_time_words(rule.low)} to {_time_words(rule.high)}: "
        "shorter where the air is dry. Pack before the pieces shrivel."
    )


def first_upper(text: str) -> str:
    """Return `text` with a capital letter first."""
    return text[:1].upper() + text[1:]


def _with_unit(value: float, unit: str) -> str:
    """Return a whole number and its unit, which no line break parts."""
    return f"{value:.0f}\N{NO-BREAK SPACE}{unit}"


def _time_words(hours: float) -> str:
    if hours < 1:
        return f"{round(60 * hours, -1):.0f} minutes"
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.0f} days"
