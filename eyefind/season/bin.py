"""The bin: what was thrown away and can be taken out again."""

from dataclasses import dataclass

from eyefind.errors import UsageError
from eyefind.season.garden import find_box, find_clump, find_photo, find_variety
from eyefind.season.ledger import Ledger
from eyefind.season.tables import (
    Box,
    Clump,
    ClumpPhoto,
    Growth,
    Row,
    Season,
    StoreCheck,
    StoredPiece,
    Variety,
    Wish,
)

BINNED: tuple[type[Row], ...] = (
    Variety,
    Wish,
    Clump,
    ClumpPhoto,
    Box,
    StoreCheck,
    Growth,
)
"""Tables that a grower puts rows of into the bin, or an undo does."""


@dataclass(frozen=True)
class Binned:
    """Something in the bin, and how it is called."""

    row: Row
    words: str


def put_into_bin(ledger: Ledger, season: Season, what: str, name: str) -> None:
    """Put a clump, variety, box or photo into the bin.

    A clump's photos go with it, so that they are not placed anew; a box's pieces
    lose their box, a variety its wanted counts.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    what, name : str
        ``"clump"``, ``"variety"``, ``"box"`` or ``"photo"``, and its name.

    Raises
    ------
    UsageError
        If there is none.
    """
    find = {
        "clump": find_clump,
        "variety": find_variety,
        "box": find_box,
        "photo": find_photo,
    }[what]
    row = find(ledger, season, name)
    rows: list[Row] = [row]
    if isinstance(row, Clump):
        rows += ledger.rows(ClumpPhoto, "clump_id = ?", row.id)
    if isinstance(row, Variety):
        rows += ledger.rows(Wish, "variety_id = ?", row.id)
    with ledger.deed(f"{what} {name} into the bin") as deed:
        for one in rows:
            deed.bin(one)
        if isinstance(row, Box):
            for piece in ledger.rows(StoredPiece, "box_id = ?", row.id):
                deed.change(piece, box_id=None, layer="")


def in_bin(ledger: Ledger) -> list[Binned]:
    """Return what is in the bin, in the order of the tables."""
    return [
        Binned(row, _words(row))
        for kind in BINNED
        for row in ledger.rows(kind, binned=True)
    ]


def take_out(ledger: Ledger, number: int) -> str:
    """Take the thing of this number, from 1, out of the bin.

    Raises
    ------
    UsageError
        If there is none, or its name was given to another meanwhile.
    """
    things = in_bin(ledger)
    if not 1 <= number <= len(things):
        raise UsageError(f"The bin has no number {number}.", f"It has {len(things)}.")
    thing = things[number - 1]
    with ledger.deed(f"{thing.words} out of the bin") as deed:
        deed.unbin(thing.row)
    return thing.words


def _words(row: Row) -> str:
    if isinstance(row, ClumpPhoto):
        return f"photo {row.path}"
    if isinstance(row, Variety | Clump | Box):
        return f"{type(row).__name__.lower()} {row.name}"
    if isinstance(row, StoreCheck):
        return f"check of piece {row.piece_id}: {row.result}"
    if isinstance(row, Growth):
        return f"growth of piece {row.piece_id}: {row.outcome}"
    if isinstance(row, Wish):
        return f"counts of variety {row.variety_id}"
    return type(row).__name__.lower()
