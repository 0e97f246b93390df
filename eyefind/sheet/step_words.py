"""What the sheet says of cuts and of what they take off, in words."""

import re
from typing import Final

import numpy as np

from eyefind.data import Cut, Piece, Plan, Points, Record, Says
from eyefind.plan import words as plan_words
from eyefind.rules import Rules
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.shapes import finite
from eyefind.sheet.style import KIND_WORDS
from eyefind.sheet.words import clump_name, first_upper
from eyefind.words import counted

SHORT_MM: Final = 20.0
"""A shorter cut goes across a neck or a root, whichever way the hand likes."""
_TUBER: Final = re.compile(r"\b[TS][0-9]+\b")
_ONE: Final = r"\b(?:[TS][0-9]+|[A-Z]{1,2})\b"
_PARTS: Final = re.compile(rf"{_ONE}(?:(?:, | and ){_ONE})*")
"""Ids of tubers and stems, letters of pieces; several as one."""
_ROWS: Final = ("top", "", "bottom")
_COLS: Final = ("left", "", "right")


def discard_words(record: Record, plan: Plan, standing: dict[str, Says]) -> list[str]:
    """Return for each discard what it is, with its cut and its doubts."""
    leaving = what_leaves(record)
    told = []
    for number, discard in enumerate(plan.discards):
        flags = [
            flag
            for flag in record.flags
            if leaving.flags.get(flag.id) == number
            and standing.get(flag.id) != "rejected"
        ]
        kinds = dict.fromkeys(KIND_WORDS[flag.kind] for flag in flags)
        doubts = [flag.id for flag in flags if standing.get(flag.id) != "confirmed"]
        notes = [f"cut {leaving.cuts[number]}"] if number in leaving.cuts else []
        notes += [f"{', '.join(doubts)} not confirmed"] if doubts else []
        note = f" ({'; '.join(notes)})" if notes else ""
        told.append(", ".join([discard.what, *kinds]) + note)
    return told


def other_reasons(plan: Plan) -> list[tuple[str, str]]:
    """Return what leaves, and why, as far as no cut tells the same reason."""
    said = " ".join(cut.why for cut in plan.cuts)
    if any(cut.purpose == plan_words.SHORTEN for cut in plan.cuts):
        said += plan_words.ONLY_A_STUB
    rows: dict[str, list[str]] = {}
    for discard in plan.discards:
        if discard.why and discard.why not in said:
            rows.setdefault(discard.why, []).append(discard.what)
    return [(first_upper(", ".join(whats)), why) for why, whats in rows.items()]


def is_like(cut: Cut, before: Cut) -> bool:
    """Tell whether a cut is made as the one before, only at another place."""
    one, other = (
        (c.purpose, c.tool, _bare(c.hold), _bare(c.stop)) for c in (cut, before)
    )
    return one == other and bool(cut.enter)


def _bare(text: str) -> str:
    """Return what is said, whichever and however many parts it is said of."""
    return _PARTS.sub("", text).replace("comes free", "come free")


def way_words(cut: Cut, before: Cut | None, record: Record) -> list[str]:
    """Return what to hold and where to enter and to stop, in sentences.

    Parameters
    ----------
    cut : Cut
        The cut.
    before : Cut or None
        The cut told just before; where this one is like it, only what differs is told.
    record : Record
        What is known of the clump.
    """
    if before is not None and is_like(cut, before):
        if _TUBER.sub("", cut.hold) == _TUBER.sub("", before.hold):
            return [f"In the same way: {cut.enter[:1].lower()}{cut.enter[1:]}"]
        return [cut.hold, cut.enter, "The rest as before."]
    told = [text for text in (cut.hold, cut.enter, cut.stop) if text]
    return told or [cut_words(cut, record)]


def why_words(plan: Plan) -> list[tuple[str, str]]:
    """Return for each reason of a cut the cuts that it is for, and the reason.

    What differs before a colon is told for each cut, what follows only once.
    """
    rows: dict[str, list[tuple[int, str]]] = {}
    for cut in plan.cuts:
        what, colon, reason = cut.why.partition(": ")
        key = reason if colon else cut.why
        rows.setdefault(key, []).append((cut.number, what if colon else ""))
    told = []
    for reason, cuts in rows.items():
        numbers = ", ".join(str(number) for number, _ in cuts)
        whats = "; ".join(dict.fromkeys(what for _, what in cuts if what))
        head = f"Cut {numbers}" if len(cuts) == 1 else f"Cuts {numbers}"
        told.append((head, f"{whats}: {reason}" if whats else reason))
    return told


def cut_words(cut: Cut, record: Record) -> str:
    """Return what to do at a cut by its line alone: where, which way, how long.

    Millimetres are left out where the scale is a guess, the way where the cut is so
    short that it only goes across something.
    """
    path = finite(cut.path_px)
    if len(path) < 2:
        return "Cut at the number."
    length_mm = _length_mm(cut, record)
    step = 5 if length_mm > SHORT_MM else 1
    length = f", about {step * max(1, round(length_mm / step))} mm"
    length = "" if record.scale.is_unsure else length
    place = _place(path[0], record)
    if length_mm <= SHORT_MM:
        return f"Cut across at the arrow{place}{length}."
    way = _way(path[-1] - path[0])
    return f"Enter at the arrow{place}. Cut {way}{length}."


def choice_words(plan: Plan) -> str:
    """Return what each number of pieces would bring."""
    if len(plan.choices) < 2:
        return ""
    told = [
        f"{counted(choice.pieces, 'piece')} {choice.worth:.2f}"
        + (f" ({counted(choice.cuts, 'split')}, {choice.length_mm / 10:.0f} cm)")
        * (choice.cuts > 0)
        for choice in plan.choices
    ]
    return f"Plants to expect, less what the cutting costs: {'; '.join(told)}"


def _length_mm(cut: Cut, record: Record) -> float:
    steps = np.diff(finite(cut.path_px), axis=0)
    return float(np.hypot(*steps.T).sum()) / record.scale.px_per_mm


def _place(point: Points, record: Record) -> str:
    """Return in which ninth of the clump a point lies, if not in the middle."""
    outline = finite(record.anatomy.clump_outline_px)
    if not len(outline):
        return ""
    low, high = outline.min(axis=0), outline.max(axis=0)
    ninth = np.clip((point - low) / np.maximum(high - low, 1.0) * 3, 0, 2.999)
    words = f"{_ROWS[int(ninth[0])]} {_COLS[int(ninth[1])]}".strip()
    return f", {words}" if words else ""


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
        "shorter where the air is dry. Pack before the pieces shrivel. "
        f"({rule.source})"
    )


def label_words(record: Record) -> str:
    """Return what to write on every label."""
    day = (record.photo.taken_at or "")[:10]
    return " / ".join(part for part in (clump_name(record.photo), day) if part)


def piece_label_words(piece: Piece) -> str:
    """Return what to write on the label of one piece besides."""
    if piece.confirmed_eyes:
        return f"{piece.letter} / eye seen"
    seen = "eye not sure" if piece.eyes else "no eye seen yet"
    return f"{piece.letter} / {seen}, look in spring"


def _time_words(hours: float) -> str:
    if hours < 1:
        return f"{round(60 * hours, -1):.0f} minutes"
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.0f} days"
