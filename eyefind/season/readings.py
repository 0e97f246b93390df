"""What the ledger takes over from a record: the record stays the truth."""

from dataclasses import dataclass
from hashlib import file_digest
from pathlib import Path
from typing import get_args

import msgspec

from eyefind.data import Plan, Record, Style
from eyefind.errors import RecordError
from eyefind.plan import make_plan
from eyefind.record import read_record
from eyefind.review import flags_in_force, standing
from eyefind.rules import Rules
from eyefind.season.tables import StoredPiece, Way

AGAIN = ("blur", "too_small", "cut_off", "dark", "bright", "glare", "soil")
"""Remarks that only another photograph can mend; a length can be typed."""


@dataclass(frozen=True)
class Reading:
    """What one record says that the ledger keeps.

    Attributes
    ----------
    path, sha256, seen : str
        The record, the hash of its bytes, its size and time of change.
    photo_sha256, taken_at, code
        What it says of its photo.
    again : str
        Why another photograph is needed, with what to do; "" if it is not.
    reviewed : bool
        Whether every flag has an answer.
    answers, unanswered : int
        How many have one, and how many have none.
    pieces : list of StoredPiece
        Of its plan, without a clump.
    ways : list of Way
        One a style, without a clump.
    """

    path: str
    sha256: str
    seen: str
    photo_sha256: str
    taken_at: str | None
    code: str | None
    again: str
    reviewed: bool
    answers: int
    unanswered: int
    pieces: list[StoredPiece]
    ways: list[Way]


def seen_of(path: Path) -> str:
    """Return size and time of change of a file: while they stay, so do the bytes."""
    status = path.stat()
    return f"{status.st_size}:{status.st_mtime_ns}"


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, hexadecimal."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def read_reading(path: Path, rules: Rules) -> Reading:
    """Read what the ledger keeps of a record.

    Parameters
    ----------
    path : Path
        The record.
    rules : Rules
        The rules of the trade: they say what is safe.

    Returns
    -------
    Reading
        With the pieces of its plan, and of each style that it might be divided by.

    Raises
    ------
    RecordError
        If the record cannot be read, or its plan has two pieces of one letter.
    """
    try:
        # Stat first: bytes that change in between are found again the next time.
        seen, sha256 = seen_of(path), file_sha256(path)
    except OSError as error:
        raise RecordError(
            f"{path} cannot be opened: {error.strerror or error}.",
            "Put the record back, or run: eyefind look PHOTO",
        ) from error
    record = read_record(path)
    flags = flags_in_force(record.flags, record.decisions)
    answers = standing(record.flags, record.decisions)
    plan = record.plan
    return Reading(
        str(path),
        sha256,
        seen,
        record.photo.sha256,
        record.photo.taken_at,
        record.photo.card_code,
        " ".join(f"{r.text} {r.advice}" for r in record.remarks if r.code in AGAIN),
        plan is not None and plan.reviewed,
        len(answers),
        len(flags) - len(answers),
        [] if plan is None else _pieces(record, plan, rules),
        [_way(record, style, rules) for style in get_args(Style)],
    )


def _pieces(record: Record, plan: Plan, rules: Rules) -> list[StoredPiece]:
    ours = {flag.id for flag in record.flags if flag.origin == "found"}
    tubers = {tuber.id: tuber for tuber in record.anatomy.tubers}
    found: list[StoredPiece] = []
    for piece in plan.pieces:
        if any(piece.letter == other.letter for other in found):
            raise RecordError(
                f"The plan of {record.photo.file} has two pieces {piece.letter}.",
                "Run: eyefind plan PHOTO. It plans again from the answers.",
            )
        own = [tubers[name] for name in piece.tubers if name in tubers]
        sound = any(
            tuber.max_diameter_mm >= rules.value("smallest_body_diameter_mm")
            and tuber.length_mm >= rules.value("smallest_body_length_mm")
            for tuber in own
        )
        found.append(
            StoredPiece(
                clump_id=0,
                letter=piece.letter,
                eyes=len(piece.eyes),
                found_eyes=len(ours.intersection(piece.eyes)),
                confirmed_eyes=piece.confirmed_eyes,
                eye_chance=piece.eye_chance,
                safe=sound and piece.eye_chance >= rules.value("safe_eye_chance"),
                whole=len(plan.pieces) == 1,
                volume_ml=piece.volume_ml,
                volume_sd_ml=sum(t.volume_ml * t.volume_relative_sd for t in own),
                thickest_mm=max((t.max_diameter_mm for t in own), default=0.0),
                note=piece.note,
            )
        )
    return found


def _way(record: Record, style: Style, rules: Rules) -> Way:
    flags = flags_in_force(record.flags, record.decisions)
    words = standing(record.flags, record.decisions)
    plan = make_plan(record.anatomy, flags, words, record.scale, style, rules)
    return Way(
        clump_id=0,
        style=style,
        cuts=len(plan.cuts),
        chances=_json([round(piece.eye_chance, 4) for piece in plan.pieces]),
        volumes_ml=_json([round(piece.volume_ml, 1) for piece in plan.pieces]),
    )


def _json(values: list[float]) -> str:
    return msgspec.json.encode(values).decode()
