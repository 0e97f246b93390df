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
    Plan,
    Points,
    Record,
    Says,
    Scale,
    ScaleSource,
)
from eyefind.rules import Rules
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.shapes import finite

OUT: Final = "OUT"
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
SHORT_MM: Final = 20.0
"""A shorter cut goes across a neck or a root, whichever way the hand likes."""
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
    size = (
        f"{which}{longest.length_mm:.0f}\N{NO-BREAK SPACE}×\N{NO-BREAK SPACE}{diameter}"
    )
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


def discard_words(
    record: Record, plan: Plan, standing: dict[str, Says]
) -> list[tuple[str, str]]:
    """Return for each discard what it is, with its cut and its doubts, and why."""
    leaving = what_leaves(record)
    named = []
    for number, discard in enumerate(plan.discards):
        what = first_upper(discard.what)
        if number in leaving.cuts:
            what = f"Cut {leaving.cuts[number]}: {what}"
        flags = [flag for flag, place in leaving.flags.items() if place == number]
        doubts = [flag for flag in flags if standing.get(flag) != "confirmed"]
        if doubts:
            what = f"{what} ({', '.join(doubts)} not confirmed)"
        named.append((what, discard.why))
    return named


def alike_in_a_row(cuts: list[Cut], record: Record) -> list[list[Cut]]:
    """Return the cuts in groups: short ones in a row with one purpose and one tool."""
    rows: list[list[Cut]] = []
    for cut in cuts:
        same = rows and (cut.purpose, cut.tool) == (
            rows[-1][0].purpose,
            rows[-1][0].tool,
        )
        if same and all(_is_short(one, record) for one in (cut, rows[-1][0])):
            rows[-1].append(cut)
        else:
            rows.append([cut])
    return rows


def shared_reason(whys: list[str]) -> tuple[list[str], str]:
    """Return what each reason speaks of, and the reason itself if it is the same.

    ``["T1: it rots", "T2: it rots"]`` gives ``["T1", "T2"]`` and ``"it rots"``.
    """
    parted = [why.partition(": ") for why in whys]
    reasons = {reason for _, _, reason in parted}
    if len(reasons) == 1 and "" not in reasons:
        return [what for what, _, _ in parted], reasons.pop()
    return whys, ""


def cut_words(cuts: list[Cut], record: Record) -> str:
    """Return what to do at cuts that are alike: tool, where, which way, how long.

    Millimetres are left out where the scale is a guess, the way where the cut is so
    short that it only goes across something.
    """
    tool = first_upper(cuts[0].tool)
    if len(cuts) > 1:
        return f"{tool}. Cut across at each arrow."
    path = finite(cuts[0].path_px)
    if len(path) < 2:
        return f"{tool}. Cut at the number."
    length_mm = _length_mm(cuts[0], record)
    step = 5 if length_mm > SHORT_MM else 1
    length = f", about {_with_unit(step * round(length_mm / step), 'mm')}"
    length = "" if record.scale.source == "guess" else length
    place = _place(path[0], record)
    if _is_short(cuts[0], record):
        return f"{tool}. Cut across at the arrow, {place}{length}."
    way = _way(path[-1] - path[0])
    return f"{tool}. Enter at the arrow, {place}. Cut {way}{length}."


def _length_mm(cut: Cut, record: Record) -> float:
    steps = np.diff(finite(cut.path_px), axis=0)
    return float(np.hypot(*steps.T).sum()) / record.scale.px_per_mm


def _is_short(cut: Cut, record: Record) -> bool:
    return _length_mm(cut, record) <= SHORT_MM


def _place(point: Points, record: Record) -> str:
    """Return in which ninth of the clump a point lies."""
    outline = finite(record.anatomy.clump_outline_px)
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


def sentence(text: str) -> str:
    """Return `text` with a capital letter first and a full stop last."""
    text = first_upper(text.strip())
    return text if not text or text[-1] in ".!?" else f"{text}."


def _time_words(hours: float) -> str:
    if hours < 1:
        return f"{round(60 * hours, -1):.0f} minutes"
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.0f} days"
