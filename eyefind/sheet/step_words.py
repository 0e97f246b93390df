"""What the sheet says of cuts and of what they take off, in words."""

from typing import Final

import numpy as np

from eyefind.data import Cut, Piece, Plan, Points, Record, Says
from eyefind.rules import Rules
from eyefind.sheet.leaving import what_leaves
from eyefind.sheet.shapes import finite
from eyefind.sheet.style import KIND_WORDS
from eyefind.sheet.words import clump_name, first_upper
from eyefind.words import counted

SHORT_MM: Final = 20.0
"""A shorter cut goes across a neck or a root, whichever way the hand likes."""
_ROWS: Final = ("top", "", "bottom")
_COLS: Final = ("left", "", "right")


def discard_words(
    record: Record, plan: Plan, standing: dict[str, Says]
) -> list[tuple[str, str]]:
    """Return for each discard what it is, with its cut and its doubts, and why."""
    leaving = what_leaves(record)
    named = []
    for number, discard in enumerate(plan.discards):
        flags = [
            flag
            for flag in record.flags
            if leaving.flags.get(flag.id) == number
            and standing.get(flag.id) != "rejected"
        ]
        words = [first_upper(discard.what)]
        words += dict.fromkeys(KIND_WORDS[flag.kind] for flag in flags)
        doubts = [flag.id for flag in flags if standing.get(flag.id) != "confirmed"]
        cut = leaving.cuts.get(number)
        named.append(
            (
                (f"Cut {cut}: " if cut else "")
                + ", ".join(words)
                + (f" ({', '.join(doubts)} not confirmed)" if doubts else ""),
                discard.why,
            )
        )
    return named


def alike_in_a_row(cuts: list[Cut], record: Record) -> list[list[Cut]]:
    """Return the cuts in groups: short ones in a row with one purpose and one tool."""
    rows: list[list[Cut]] = []
    for cut in cuts:
        last = rows[-1][0] if rows else None
        if last is not None and _alike(last, cut, record):
            rows[-1].append(cut)
        else:
            rows.append([cut])
    return rows


def _alike(one: Cut, other: Cut, record: Record) -> bool:
    same = (one.purpose, one.tool) == (other.purpose, other.tool)
    return same and _is_short(one, record) and _is_short(other, record)


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
    length = f", about {step * round(length_mm / step)} mm"
    length = "" if record.scale.is_unsure else length
    place = _place(path[0], record)
    if _is_short(cuts[0], record):
        return f"{tool}. Cut across at the arrow{place}{length}."
    way = _way(path[-1] - path[0])
    return f"{tool}. Enter at the arrow{place}. Cut {way}{length}."


def how(cut: Cut) -> list[str]:
    """Return what to hold, and where to enter and to stop; nothing if not known."""
    way = " ".join(text for text in (cut.enter, cut.stop) if text)
    return [text for text in (cut.hold, way) if text]


def choice_words(plan: Plan) -> list[str]:
    """Return what could be had with each number of pieces."""
    return [
        f"{counted(choice.pieces, 'piece')}: {counted(choice.cuts, 'splitting cut')}, "
        f"{choice.length_mm / 10:.0f} cm in all, {choice.worth:.2f} plants to expect "
        "after what the cutting costs"
        for choice in plan.choices
        if len(plan.choices) > 1
    ]


def _length_mm(cut: Cut, record: Record) -> float:
    steps = np.diff(finite(cut.path_px), axis=0)
    return float(np.hypot(*steps.T).sum()) / record.scale.px_per_mm


def _is_short(cut: Cut, record: Record) -> bool:
    return _length_mm(cut, record) <= SHORT_MM


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


def label_words(record: Record, piece: Piece) -> str:
    """Return what to write on the label of a piece."""
    day = (record.photo.taken_at or "")[:10]
    eyes = "eye seen" if piece.confirmed_eyes else "no eye seen yet, look in spring"
    parts = [clump_name(record.photo), piece.letter, ", ".join(piece.tubers), eyes, day]
    return " / ".join(part for part in parts if part)


def _time_words(hours: float) -> str:
    if hours < 1:
        return f"{round(60 * hours, -1):.0f} minutes"
    return f"{hours:.0f} hours" if hours < 48 else f"{hours / 24:.0f} days"
