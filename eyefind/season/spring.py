"""Spring: which pieces to wake first, and what the flags were worth."""

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
    groups: dict[str, list[tuple[float, bool, bool]]] = {}
    for row in ledger.ask(_GROWN, season.id):
        group = "all" if by == "all" else row[by] or NOT_TOLD
        seen = (row["eye_chance"], bool(row["safe"]), row["outcome"] == "shot")
        groups.setdefault(group, []).append(seen)
    return [_truth(group, seen) for group, seen in sorted(groups.items())]


def _truth(group: str, seen: list[tuple[float, bool, bool]]) -> Truth:
    safe = [shot for _, is_safe, shot in seen if is_safe]
    doubtful = [shot for _, is_safe, shot in seen if not is_safe]
    return Truth(
        group,
        len(seen),
        sum(chance for chance, _, _ in seen),
        sum(shot for _, _, shot in seen),
        len(safe),
        sum(safe),
        len(doubtful),
        sum(doubtful),
        *wilson(sum(safe), len(safe)),
        sum((chance - shot) ** 2 for chance, _, shot in seen) / len(seen),
    )


_TO_WAKE = """
    SELECT * FROM piece_seen WHERE season_id = ? AND NOT gone AND outcome IS NULL
    ORDER BY safe, eye_chance, variety, clump, letter
"""

_GROWN = """
    SELECT eye_chance, safe, variety, light, outcome FROM piece_seen
    WHERE season_id = ? AND outcome IN ('shot', 'blind')
"""
