"""The rows of the ledger: one frozen dataclass a table, the fields being its columns.

Days are ISO 8601 dates and times ISO 8601 with offset, as text. ``binned_at`` is when
a row was put into the bin; None while it counts. What is marked *derived* comes from
the records and is renewed from them; all else was typed.
"""

from dataclasses import dataclass
from typing import Literal, get_args

PlacedBy = Literal["code", "name", "time", "alone", "grower"]
Result = Literal["sound", "shrivelled", "soft", "sprouted", "lost"]
Outcome = Literal["shot", "blind", "rotted"]
Light = Literal["", "raking", "slanting", "frontal", "daylight", "flash"]
Layer = Literal["", "bottom", "middle", "top"]

RESULTS: tuple[Result, ...] = get_args(Result)
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
LIGHTS: tuple[Light, ...] = get_args(Light)


@dataclass(frozen=True, kw_only=True)
class Row:
    """What every row has; ``id`` 0 stands for a row that is not in the ledger yet."""

    id: int = 0
    binned_at: str | None = None


@dataclass(frozen=True, kw_only=True)
class Garden(Row):
    """A garden with its varieties."""

    name: str
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Season(Row):
    """One autumn's lifting, named by its year, and the winter and spring after it.

    ``loss`` is the share of pieces that the grower expects to lose in store; None
    takes the rule ``storage_loss``.
    """

    garden_id: int
    year: int
    loss: float | None = None


@dataclass(frozen=True, kw_only=True)
class Variety(Row):
    """A variety of a garden."""

    garden_id: int
    name: str
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Wish(Row):
    """How many plants of a variety are wanted next year, and to give away."""

    season_id: int
    variety_id: int
    wanted: int = 0
    give_away: int = 0


@dataclass(frozen=True, kw_only=True)
class Clump(Row):
    """A lifted clump.

    ``name`` is unique in its season: the code of its card, or its first photo's name.
    Once ``cut_on`` is set its pieces are those that were cut and no new plan changes
    them.
    """

    season_id: int
    name: str
    code: str | None = None
    variety_id: int | None = None
    bed: str = ""
    place: str = ""
    light: Light = ""
    lifted_on: str | None = None
    cut_on: str | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class ClumpPhoto(Row):
    """A photograph of a clump and the record that belongs to it (*derived*).

    ``placed_by`` says how it came to its clump; what the grower said stays.
    ``again`` says why another photograph is needed, ``failed`` why this one could not
    be used; ``unanswered`` is how many flags wait for an answer.
    """

    season_id: int
    clump_id: int | None = None
    path: str
    sha256: str = ""
    taken_at: str | None = None
    code: str | None = None
    placed_by: PlacedBy | None = None
    record_path: str | None = None
    record_sha256: str | None = None
    record_seen: str | None = None
    again: str = ""
    failed: str = ""
    unanswered: int = 0


@dataclass(frozen=True, kw_only=True)
class StoredPiece(Row):
    """A piece of a clump: letter, eyes, likelihood, size (*derived*), box and layer.

    ``eyes`` are those that the plan counts on, ``found_eyes`` those of them that we
    found and the grower did not add. ``volume_sd_ml`` takes the errors of its tubers
    as going together.
    """

    clump_id: int
    letter: str
    eyes: int
    found_eyes: int
    confirmed_eyes: int
    eye_chance: float
    safe: bool
    whole: bool
    volume_ml: float
    volume_sd_ml: float
    thickest_mm: float
    note: str = ""
    box_id: int | None = None
    layer: Layer = ""


@dataclass(frozen=True, kw_only=True)
class Way(Row):
    """One way to divide a clump (*derived*): the pieces that a style would give.

    ``chances`` and ``volumes_ml`` are JSON lists, one number a piece.
    """

    clump_id: int
    style: str
    cuts: int
    chances: str
    volumes_ml: str


@dataclass(frozen=True, kw_only=True)
class Box(Row):
    """A box of the store."""

    season_id: int
    name: str
    litres: float
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class StoreCheck(Row):
    """What a check in winter found of a piece."""

    piece_id: int
    on_day: str
    result: Result
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Growth(Row):
    """What became of a piece in spring, and how many shoots it made."""

    piece_id: int
    on_day: str
    outcome: Outcome
    shoots: int | None = None
    note: str = ""


TABLES: dict[type[Row], str] = {
    Garden: "garden",
    Season: "season",
    Variety: "variety",
    Wish: "wish",
    Clump: "clump",
    ClumpPhoto: "photo",
    Box: "box",
    StoredPiece: "piece",
    Way: "way",
    StoreCheck: "store_check",
    Growth: "growth",
}
"""Name of each table; each stands behind those that it refers to."""
