"""What the sheet says, in words: from the record to plain sentences."""

import re
from pathlib import PurePath
from typing import Final

from eyefind.data import (
    Anatomy,
    PhotoFacts,
    Piece,
    Plan,
    Record,
    Says,
    Scale,
    ScaleSource,
)
from eyefind.review import sides_in_force

OUT: Final = "OUT"
STAMP: Final = "NOT YET REVIEWED"
STAMP_WHY: Final = "Flags still wait for an answer. Answer them before you cut."
ADVICE_ONLY: Final = "This sheet only advises; you decide."

_SCALE_WORDS: Final[dict[ScaleSource, str]] = {
    "card": "from the bench card",
    "two_points": "from the two points you set",
    "typed_width": "from the width you typed",
    "looks": "GUESS from the looks of the tubers: no scale in the photo",
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
_ID: Final = re.compile(r"\b[A-Z][0-9]+\b(?! \(side)")
"""Ids of what the photo shows; those of other sides are not in it."""


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
    doubt = f"± {100 * scale.relative_sd:.0f} %"
    words = f"Sizes {_SCALE_WORDS[scale.source]}, {doubt}"
    if scale.is_unsure:
        return f"{words}. Do not trust millimetres here"
    return words


def limits(record: Record, plan: Plan) -> list[str]:
    """Return what the photo could not show, in a few words each."""
    scale = record.scale
    known = ["soft parts need not show: press every tuber"]
    if scale.source == "guess":
        known.insert(0, "the scale is a guess: measure before you cut")
    others = len(sides_in_force(record.decisions))
    seen = f"{others + 1} sides were seen" if others else "only this side was seen"
    known.insert(0, f"{seen}: turn the clump over")
    if plan.alternative is not None:
        known.append("another plan is nearly as good: see the last pages")
    return known


def chance_words(piece: Piece) -> str:
    """Return a piece's chance of at least one eye, in words and percent.

    Only a confirmed eye is certain: no likelihood is rounded up to 100 %.
    """
    if piece.confirmed_eyes:
        return "sure, 100 %"
    if not piece.eyes:
        return "not known"
    words = next(word for level, word in _CHANCE_WORDS if piece.eye_chance >= level)
    return f"{words}, {min(round(100 * piece.eye_chance), 99)} %"


def eyes_words(piece: Piece) -> str:
    """Return how many eyes of a piece are confirmed and how many only likely."""
    likely = len(piece.eyes) - piece.confirmed_eyes
    counts = {"confirmed": piece.confirmed_eyes, "likely": likely}
    words = [f"{count} {word}" for word, count in counts.items() if count]
    if piece.far_eyes:
        words.append("eye seen on the other side")
    return ", ".join(words) or "no eye seen"


def tubers_words(piece: Piece) -> str:
    """Return how many tubers a piece has, and which if its letter leaves a doubt."""
    if len(piece.tubers) < 2:
        return f"{len(piece.tubers)}"
    return f"{len(piece.tubers)}: {', '.join(piece.tubers)}"


def size_words(piece: Piece, anatomy: Anatomy) -> str:
    """Return a piece's volume and the measures of its longest tuber."""
    volume = f"{piece.volume_ml:.0f} ml"
    own = [tuber for tuber in anatomy.tubers if tuber.id in piece.tubers]
    if not own:
        return volume
    longest = max(own, key=lambda tuber: tuber.length_mm)
    size = f"{longest.length_mm:.0f} × {longest.max_diameter_mm:.0f} mm"
    return f"{volume}, {'longest ' if len(own) > 1 else ''}{size}"


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
    return ids.union(_ID.findall(" ".join(said)), *shared)


def first_upper(text: str) -> str:
    """Return `text` with a capital letter first."""
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """Return `text` with a capital letter first and a full stop last."""
    text = first_upper(text.strip())
    return text if not text or text[-1] in ".!?" else f"{text}."
