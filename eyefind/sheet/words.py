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
from eyefind.plan import words as plan_words
from eyefind.review import sides_in_force

SHEET: Final = ".eyefind-sheet"
AFTER: Final = ".eyefind-after"
"""What stands behind a clump's name: the sheet for the bench, that for afterwards."""
SIDES: Final = ".eyefind-sides"
"""And for two photos beside each other, their tubers named."""
OUT: Final = "OUT"
STAMP: Final = "NOT YET REVIEWED"
STAMP_WHY: Final = ("Flags still wait for an answer.", "Answer them before you cut.")
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
STAY_TOGETHER: Final = " stay together: "
"""Stands in the warnings that only say why tubers or stems are not parted."""
_SHORT: Final = {
    plan_words.NO_CONFIRMED_EYE: (
        "Do not divide on this photo alone: no eye is confirmed."
    ),
    plan_words.PREVIEW: (
        "Do not divide on this photo alone: no eye is confirmed, so the splits are "
        "only a preview."
    ),
    plan_words.GUESSED_SCALE: "Measure before you cut: the scale is a guess.",
    plan_words.FAR_SIDE: "",
}
"""Warnings in short; the last is told with the number of sides that were seen."""
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
    """Return what to heed before the first cut, in short sentences.

    Parameters
    ----------
    record, plan : Record, Plan
        What is known of the clump, and its plan.

    Returns
    -------
    list of str
        What the photo could not show, and every warning of the plan: in short where
        it is one of the common ones, else in full. Only why tubers stay together is
        left to `reasons`.
    """
    others = len(sides_in_force(record.decisions))
    seen = f"{others + 1} sides were seen" if others else "only this side was seen"
    close = plan_words.close_call(len(plan.pieces))
    short = {**_SHORT, close: _other_words(plan)}
    told = [short.get(text, text) for text in plan.warnings if not _is_reason(text)]
    told += _heeded(plan)
    if record.scale.is_unsure:
        told.insert(0, _SHORT[plan_words.GUESSED_SCALE])
    told.append(f"Turn the clump over: {seen}.")
    told.append("Press every tuber: soft parts need not show.")
    return [text for text in dict.fromkeys(told) if text]


def _heeded(plan: Plan) -> list[str]:
    """Return what the notes on the pieces say that matters before the cut."""
    notes = [note for piece in plan.pieces for note in piece.note.split("; ")]
    thin = [note for note in notes if note.endswith(plan_words.NOT_BY_BODY)]
    told = [
        sentence(note)
        for note in notes
        if note.endswith((plan_words.FIND_IT, plan_words.LOOK_FIRST))
    ]
    if thin:
        tubers = plan_words.names([_ID.findall(note)[0] for note in thin])
        told.append(f"Hold {tubers} never by the body: thin or hidden neck.")
    return told


def _other_words(plan: Plan) -> str:
    """Return what the plan that is nearly as good would make."""
    if plan.alternative is None:
        return "Another plan is nearly as good."
    held = [", ".join(piece.tubers) for piece in plan.alternative.pieces]
    return f"Nearly as good would be: {' / '.join(held)}."


def reasons(plan: Plan) -> list[str]:
    """Return why tubers or stems stay together by the plan."""
    return [text for text in plan.warnings if _is_reason(text)]


def _is_reason(warning: str) -> bool:
    return STAY_TOGETHER in warning


def chance_words(piece: Piece) -> str:
    """Return a piece's chance of at least one eye, in percent and words.

    Only a confirmed eye is certain: no likelihood is rounded up to 100 %.
    """
    if piece.confirmed_eyes:
        return "sure"
    if not piece.eyes:
        return "not known"
    words = next(word for level, word in _CHANCE_WORDS if piece.eye_chance >= level)
    return f"{min(round(100 * piece.eye_chance), 99)} %, {words}"


def eyes_words(piece: Piece) -> str:
    """Return how many eyes of a piece are confirmed and how many only possible."""
    possible = len(piece.eyes) - piece.confirmed_eyes
    counts = {"confirmed": piece.confirmed_eyes, "possible": possible}
    words = [f"{count} {word}" for word, count in counts.items() if count]
    if piece.far_eyes:
        words.append(f"{piece.far_eyes} of them on the other side")
    return ", ".join(words) or "none seen"


def has_doubtful(plan: Plan) -> bool:
    """Tell whether some piece has no confirmed eye."""
    return any(not piece.confirmed_eyes for piece in plan.pieces)


def eyes_in_short(piece: Piece) -> str:
    """Return eyes and the chance of one in few words, for a narrow column."""
    if not piece.eyes:
        return "no eye seen"
    return f"{eyes_words(piece)}, {chance_words(piece)}"


def eye_sentence(piece: Piece) -> str:
    """Return what is known of a piece's eyes, where no heading says what is meant."""
    if not piece.eyes:
        return "No eye seen"
    counts = eyes_words(piece)
    if piece.confirmed_eyes:
        return f"Eyes: {counts}"
    return f"Eyes: {counts}. Chance of an eye: {chance_words(piece)}"


def note_words(piece: Piece) -> str:
    """Return what to know about a piece besides what its label says."""
    notes = piece.note.split("; ")
    return "; ".join(note for note in notes if note != plan_words.NO_EYE)


def size_words(piece: Piece, anatomy: Anatomy) -> str:
    """Return a piece's volume and the measures of its longest tuber."""
    volume = f"{piece.volume_ml:.0f} ml"
    own = [tuber for tuber in anatomy.tubers if tuber.id in piece.tubers]
    if not own:
        return volume
    longest = max(own, key=lambda tuber: tuber.length_mm)
    size = f"{longest.length_mm:.0f} × {longest.max_diameter_mm:.0f} mm"
    return f"{volume}, {'longest ' if len(own) > 1 else ''}{size}"


def piece_words(piece: Piece, anatomy: Anatomy) -> str:
    """Return the tubers and sizes of a piece, and what to know of it besides."""
    texts = [", ".join(piece.tubers), size_words(piece, anatomy), note_words(piece)]
    return " ".join(sentence(text) for text in texts if text)


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


def span_words(numbers: list[str]) -> str:
    """Return numbers that follow each other: ``"6"``, ``"6 to 9"``."""
    return " to ".join(dict.fromkeys([numbers[0], numbers[-1]]))


def first_upper(text: str) -> str:
    """Return `text` with a capital letter first."""
    return text[:1].upper() + text[1:]


def sentence(text: str) -> str:
    """Return `text` with a capital letter first and a full stop last."""
    text = first_upper(text.strip())
    return text if not text or text[-1] in ".!?" else f"{text}."
