"""Spring: which pieces to wake first, and what the flags were worth."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from eyefind.errors import UsageError
from eyefind.season.ledger import Ledger
from eyefind.season.tables import OUTCOMES, Growth, Season, StoredPiece
from eyefind.season.winter import wilson

NOT_TOLD = "not told"


@dataclass(frozen=True)
class Waking:
    """A piece to wake, doubtful ones first."""

    clump: str
    letter: str
    variety: str
    box: str
    eye_chance: float
    why: str


@dataclass(frozen=True)
class Truth:
    """What the flags of a group of pieces were worth.

    Rotted pieces do not count: they say nothing of eyes.

    Attributes
    ----------
    group : str
        Variety, light, or ``"all"``.
    pieces : int
        Pieces that shot or stayed blind.
    expected : float
        How many should have shot by their likelihoods.
    shot : int
        How many did.
    safe, safe_shot : int
        The same of the pieces called safe.
    doubtful, doubtful_shot : int
        And of the others.
    flagged, flagged_shot : int
        The same of the pieces on which we had found an eye.
    missed : int
        Pieces that shot though we had found no eye on them.
    low, high : float
        95 % interval of the share of safe pieces that shot (Wilson).
    brier : float
        Mean squared error of the likelihoods (Brier 1950, Mon. Weather Rev. 78:1-3);
        0 is perfect, 0.25 is what "half and half" for all would give.
    """

    group: str
    pieces: int
    expected: float
    shot: int
    safe: int
    safe_shot: int
    doubtful: int
    doubtful_shot: int
    flagged: int
    flagged_shot: int
    missed: int
    low: float
    high: float
    brier: float


def wake_first(ledger: Ledger, season: Season) -> list[Waking]:
    """Return the pieces in the order in which they should be woken.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.

    Returns
    -------
    list of Waking
        Doubtful ones first, the likeliest of them last; sound or sprouted ones that
        are safe follow. Pieces whose growth is known are left out.
    """
    return [
        Waking(
            row["clump"],
            row["letter"],
            row["variety"] or "",
            row["box"] or "",
            row["eye_chance"],
            "" if row["safe"] else "doubtful: give it time to show an eye",
        )
        for row in ledger.ask(_TO_WAKE, season.id)
    ]


def note_growth(
    ledger: Ledger,
    pieces: Sequence[StoredPiece],
    outcome: str,
    day: date,
    shoots: int | None = None,
    note: str = "",
) -> None:
    """Enter what became of pieces.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    pieces : sequence of StoredPiece
        The pieces.
    outcome : str
        ``"shot"``, ``"blind"`` or ``"rotted"``.
    day : date
        When.
    shoots : int or None
        How many shoots, if counted.
    note : str
        In the grower's words.

    Raises
    ------
    UsageError
        If there is no such outcome.
    """
    for known in OUTCOMES:
        if known == outcome:
            break
    else:
        raise UsageError(
            f"A piece cannot have '{outcome}'.", f"Say one of: {', '.join(OUTCOMES)}."
        )
    with ledger.deed(f"{len(pieces)} {outcome}") as deed:
        for piece in pieces:
            deed.add(
                Growth(
                    piece_id=piece.id,
                    on_day=day.isoformat(),
                    outcome=known,
                    shoots=shoots,
                    note=note,
                )
            )


def own_accuracy(ledger: Ledger, season: Season, by: str) -> list[Truth]:
    """Compare what was flagged with what grew: this grower's own season.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    by : str
        ``"all"``, ``"variety"`` or ``"light"``.

    Returns
    -------
    list of Truth
        By group; empty when nothing grew yet.
    """
    groups: dict[str, list[sqlite3.Row]] = {}
    for row in ledger.ask(_GROWN, season.id):
        group = "all" if by == "all" else row[by] or NOT_TOLD
        groups.setdefault(group, []).append(row)
    return [_truth(group, rows) for group, rows in sorted(groups.items())]


def _truth(group: str, rows: list[sqlite3.Row]) -> Truth:
    shot = [bool(row["shot"]) for row in rows]
    safe = [bool(row["shot"]) for row in rows if row["safe"]]
    doubtful = [bool(row["shot"]) for row in rows if not row["safe"]]
    flagged = [bool(row["shot"]) for row in rows if row["found_eyes"]]
    return Truth(
        group,
        len(rows),
        sum(row["eye_chance"] for row in rows),
        sum(shot),
        len(safe),
        sum(safe),
        len(doubtful),
        sum(doubtful),
        len(flagged),
        sum(flagged),
        sum(shot) - sum(flagged),
        *wilson(sum(safe), len(safe)),
        sum((row["eye_chance"] - row["shot"]) ** 2 for row in rows) / len(rows),
    )


_TO_WAKE = """
    SELECT * FROM piece_seen WHERE season_id = ? AND NOT gone AND outcome IS NULL
    ORDER BY safe, eye_chance, variety, clump, letter
"""

_GROWN = """
    SELECT eye_chance, safe, found_eyes, variety, light, outcome = 'shot' AS shot
    FROM piece_seen
    WHERE season_id = ? AND outcome IN ('shot', 'blind')
"""
