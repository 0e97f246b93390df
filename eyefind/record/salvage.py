"""What can still be read of a damaged record."""

import json
from dataclasses import dataclass
from pathlib import Path

import msgspec

from eyefind.data import Decision, Flag, PhotoFacts, Scale
from eyefind.record.coding import from_fields

Piece = Decision | Flag | PhotoFacts | Scale
KINDS: tuple[type[Piece], ...] = (Decision, Flag, PhotoFacts, Scale)


@dataclass(frozen=True)
class Salvage:
    """The pieces of a damaged record that are whole.

    Attributes
    ----------
    decisions : list of Decision
        Every decision that could be read, in order.
    flags : list of Flag
        Every flag that could be read.
    photo : PhotoFacts or None
        The photo it was written for.
    scale : Scale or None
        Its scale.
    """

    decisions: list[Decision]
    flags: list[Flag]
    photo: PhotoFacts | None
    scale: Scale | None


def salvage(path: Path) -> Salvage:
    """Read what is whole in a damaged record.

    Every JSON object in the file that is complete, free of bad bytes and has the
    fields of a decision, flag, photo or scale is taken, wherever it stands.

    Parameters
    ----------
    path : Path
        The damaged file.

    Returns
    -------
    Salvage
        The whole pieces; empty when there are none.
    """
    text = path.read_bytes().decode("utf-8", errors="replace")
    decoder = json.JSONDecoder()
    pieces = []
    at = text.find("{")
    while at >= 0:
        end = at + 1
        try:
            value, stop = decoder.raw_decode(text, at)
        except (ValueError, RecursionError):
            value, stop = None, end
        piece = _piece(value)
        if piece is not None and "\ufffd" not in text[at:stop]:
            pieces.append(piece)
            end = stop
        at = text.find("{", end)
    return Salvage(
        [piece for piece in pieces if isinstance(piece, Decision)],
        [piece for piece in pieces if isinstance(piece, Flag)],
        next((piece for piece in pieces if isinstance(piece, PhotoFacts)), None),
        next((piece for piece in pieces if isinstance(piece, Scale)), None),
    )


def _piece(value: object) -> Piece | None:
    for kind in KINDS:
        try:
            return from_fields(value, kind)
        except msgspec.ValidationError:
            continue
    return None
