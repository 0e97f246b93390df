"""Room in store: volumes, and which piece goes into which box and layer."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import inf

from eyefind.rules import Rules
from eyefind.season.ledger import Ledger
from eyefind.season.tables import Box, Layer, Season, StoredPiece

FRESH_DAYS = 30
"""Pieces cut in the last weeks lie on top: what rots, rots first (common practice)."""


@dataclass(frozen=True)
class ToStore:
    """A piece that wants room.

    Attributes
    ----------
    id : int
        Of the piece.
    variety, clump, letter : str
        Whose it is.
    litres, litres_sd : float
        Room in a box that it takes, medium and air included; the standard deviation
        of its own volume, not that of the packing.
    small, doubtful, fresh : bool
        What its layer goes by.
    """

    id: int
    variety: str
    clump: str
    letter: str
    litres: float
    litres_sd: float
    small: bool
    doubtful: bool
    fresh: bool

    @property
    def layer(self) -> Layer:
        """Where in the box it lies: what must be looked at lies on top."""
        if self.doubtful or self.fresh:
            return "top"
        return "bottom" if self.small else "middle"


@dataclass(frozen=True)
class FilledBox:
    """A box and what goes into it.

    Attributes
    ----------
    box : Box
        The box.
    pieces : list of ToStore
        By layer from the bottom, one variety together.
    """

    box: Box
    pieces: list[ToStore]

    @property
    def litres(self) -> float:
        """Litres that are taken."""
        return sum(piece.litres for piece in self.pieces)

    @property
    def litres_sd(self) -> float:
        """Their standard deviation; the errors of the pieces go together (scale)."""
        return sum(piece.litres_sd for piece in self.pieces)


@dataclass(frozen=True)
class BoxPlan:
    """The boxes with their pieces, and the pieces without room."""

    boxes: list[FilledBox]
    left: list[ToStore]


def litres_needed(volumes_ml: Sequence[float], rules: Rules) -> float:
    """Return the room in store, litres, of the pieces of one clump."""
    share = "packing_fraction" if len(volumes_ml) > 1 else "clump_packing_fraction"
    return sum(volumes_ml) / 1000 / rules.value(share)


def room_litres(ledger: Ledger, season: Season) -> float:
    """Return the litres of all boxes of a season; infinite when it has none."""
    boxes = ledger.rows(Box, "season_id = ?", season.id)
    return sum(box.litres for box in boxes) if boxes else inf


def plan_boxes(ledger: Ledger, season: Season, rules: Rules, today: date) -> BoxPlan:
    """Say which piece goes into which box.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    rules : Rules
        Packing, and what is small.
    today : date
        Pieces cut within `FRESH_DAYS` before it are freshly cut.

    Returns
    -------
    BoxPlan
        Every piece once.
    """
    boxes = ledger.rows(Box, "season_id = ?", season.id)
    return fill_boxes(pieces_to_store(ledger, season, rules, today), boxes)


def pieces_to_store(
    ledger: Ledger, season: Season, rules: Rules, today: date
) -> list[ToStore]:
    """Return the pieces that want room: all but those that are soft or lost."""
    fresh_from = (today - timedelta(days=FRESH_DAYS)).isoformat()
    small_mm = rules.value("small_piece_mm")
    found = []
    for row in ledger.ask(_PIECES, season.id):
        name = "clump_packing_fraction" if row["whole"] else "packing_fraction"
        share = rules.value(name)
        found.append(
            ToStore(
                row["id"],
                row["variety"] or "",
                row["clump"],
                row["letter"],
                row["volume_ml"] / 1000 / share,
                row["volume_sd_ml"] / 1000 / share,
                0 < row["thickest_mm"] < small_mm,
                not row["safe"],
                bool(row["cut_on"] and row["cut_on"] >= fresh_from),
            )
        )
    return found


def fill_boxes(pieces: Sequence[ToStore], boxes: Sequence[Box]) -> BoxPlan:
    """Fill boxes, one variety together.

    The largest variety first: into the box that it fits most tightly, or, when it
    fits none, into the emptiest boxes one after the other (best fit decreasing:
    Johnson 1974, J. Comput. Syst. Sci. 8:272-314).

    Parameters
    ----------
    pieces : sequence of ToStore
        The pieces.
    boxes : sequence of Box
        The boxes.

    Returns
    -------
    BoxPlan
        No box holds more than its litres.
    """
    free = {box.id: box.litres for box in boxes}
    inside: dict[int, list[ToStore]] = {box.id: [] for box in boxes}
    left: list[ToStore] = []
    groups: dict[str, list[ToStore]] = {}
    for piece in pieces:
        groups.setdefault(piece.variety, []).append(piece)
    largest_first = sorted(groups.values(), key=lambda g: -sum(p.litres for p in g))
    for group in largest_first:
        whole = sum(piece.litres for piece in group)
        fitting = [box for box in free if free[box] >= whole]
        if fitting:
            box = min(fitting, key=lambda box: free[box])
            inside[box] += group
            free[box] -= whole
            continue
        # Clumps stay together, and what is safe is given room first.
        order = sorted(group, key=lambda p: (p.doubtful, p.clump, p.letter))
        for piece in order:
            own = [box for box in free if free[box] >= piece.litres]
            if not own:
                left.append(piece)
                continue
            held = [
                b for b in own if any(p.variety == piece.variety for p in inside[b])
            ]
            box = max(held or own, key=lambda box: free[box])
            inside[box].append(piece)
            free[box] -= piece.litres
    filled = [FilledBox(box, _layered(inside[box.id])) for box in boxes]
    return BoxPlan(filled, left)


def keep_plan(ledger: Ledger, plan: BoxPlan) -> None:
    """Write a box plan into the ledger; it can be taken back.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    plan : BoxPlan
        The plan.
    """
    with ledger.deed("pieces put into boxes") as deed:
        for filled in plan.boxes:
            for piece in filled.pieces:
                row = ledger.row(StoredPiece, piece.id)
                deed.change(row, box_id=filled.box.id, layer=piece.layer)
        for piece in plan.left:
            deed.change(ledger.row(StoredPiece, piece.id), box_id=None, layer="")


def _layered(pieces: Sequence[ToStore]) -> list[ToStore]:
    layers: tuple[Layer, ...] = ("bottom", "middle", "top")
    return sorted(
        pieces, key=lambda p: (layers.index(p.layer), p.variety, p.clump, p.letter)
    )


_PIECES = """
    SELECT * FROM piece_seen WHERE season_id = ? AND NOT gone
    ORDER BY variety, clump, letter
"""
