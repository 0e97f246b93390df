"""Enough of each? Pieces against what is wanted, with the chance of reaching it."""

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eyefind.rules import Rules
from eyefind.season.ledger import Ledger
from eyefind.season.tables import Season

NO_VARIETY = "not named yet"


@dataclass(frozen=True)
class VarietyCount:
    """How a variety stands.

    Attributes
    ----------
    variety : str
        Its name; `NO_VARIETY` for clumps that have none.
    wanted, give_away : int
        Plants wanted for next year and to give away.
    clumps : int
        Its clumps.
    safe, doubtful : int
        Its pieces: safe ones and the others; lost ones count for neither.
    expected : float
        Plants to be expected in spring.
    chance : float
        Chance of at least ``wanted + give_away`` plants.
    chance_low, chance_high : float
        The same for the largest and the smallest loss that the sources give.
    """

    variety: str
    wanted: int
    give_away: int
    clumps: int
    safe: int
    doubtful: int
    expected: float
    chance: float
    chance_low: float
    chance_high: float

    @property
    def need(self) -> int:
        """Plants wanted altogether."""
        return self.wanted + self.give_away

    @property
    def short(self) -> int:
        """Plants by which the expectation stays below the need, rounded."""
        return max(0, round(self.need - self.expected))

    @property
    def surplus(self) -> int:
        """Plants by which the expectation exceeds the need, rounded."""
        return max(0, round(self.expected - self.need))


def chance_of_at_least(need: int, chances: Sequence[float]) -> float:
    """Return the chance that at least `need` of independent pieces grow.

    The distribution of the number is that of Poisson's binomial, built up piece by
    piece (Hong 2013, Comput. Stat. Data Anal. 59:41-51 compares ways to do so).

    Parameters
    ----------
    need : int
        How many are needed.
    chances : sequence of float
        Chance of each piece.

    Returns
    -------
    float
        0 to 1; 1 when none is needed.
    """
    if need <= 0:
        return 1.0
    if need > len(chances):
        return 0.0
    counts: NDArray[np.float64] = np.zeros(len(chances) + 1)
    counts[0] = 1.0
    for chance in chances:
        counts[1:] = counts[1:] * (1 - chance) + counts[:-1] * chance
        counts[0] *= 1 - chance
    return float(np.clip(counts[need:].sum(), 0.0, 1.0))


def loss_of(season: Season, rules: Rules) -> float:
    """Return the share of pieces that is expected to be lost in store."""
    return rules.value("storage_loss") if season.loss is None else season.loss


def count_varieties(ledger: Ledger, season: Season, rules: Rules) -> list[VarietyCount]:
    """Count the pieces of each variety against what is wanted.

    A piece that a check found lost, or soft at the last check, does not count; one
    that shot counts as certain, one that rotted or stayed blind not at all. All
    pieces are taken as independent of each other.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    rules : Rules
        ``storage_loss`` with its range.

    Returns
    -------
    list of VarietyCount
        By name; clumps without a variety come last.
    """
    loss = loss_of(season, rules)
    rule = rules["storage_loss"]
    losses = (loss, max(rule.high, loss), min(rule.low, loss))
    pieces: dict[int | None, list[tuple[float, bool, bool]]] = {}
    for row in ledger.ask(_PIECES, season.id):
        grows = {"shot": 1.0, "blind": 0.0, "rotted": 0.0}.get(row["outcome"])
        chance = row["eye_chance"] if grows is None else grows
        pieces.setdefault(row["variety_id"], []).append(
            (chance, bool(row["safe"]), grows is not None)
        )
    found = [
        _count(row, pieces.get(row["variety_id"], []), losses)
        for row in ledger.ask(
            _VARIETIES, season.id, season.id, season.garden_id, season.id
        )
    ]
    return sorted(found, key=lambda c: (c.variety == NO_VARIETY, c.variety.casefold()))


def _count(
    row: sqlite3.Row,
    pieces: list[tuple[float, bool, bool]],
    losses: tuple[float, float, float],
) -> VarietyCount:
    need = row["wanted"] + row["give_away"]
    # What has been seen in spring is past the losses of the store.
    kept = [
        [chance if seen else chance * (1 - loss) for chance, _, seen in pieces]
        for loss in losses
    ]
    safe = sum(safe for _, safe, _ in pieces)
    return VarietyCount(
        row["name"] or NO_VARIETY,
        row["wanted"],
        row["give_away"],
        row["clumps"],
        safe,
        len(pieces) - safe,
        sum(kept[0]),
        *(chance_of_at_least(need, chances) for chances in kept),
    )


_PIECES = """
    SELECT variety_id, eye_chance, safe, outcome FROM piece_seen
    WHERE season_id = ? AND NOT gone
"""

_VARIETIES = """
    SELECT variety.id AS variety_id, variety.name,
        coalesce(wish.wanted, 0) AS wanted, coalesce(wish.give_away, 0) AS give_away,
        count(clump.id) AS clumps
    FROM variety
    LEFT JOIN wish ON wish.variety_id = variety.id AND wish.season_id = ?
        AND wish.binned_at IS NULL
    LEFT JOIN clump ON clump.variety_id = variety.id AND clump.season_id = ?
        AND clump.binned_at IS NULL
    WHERE variety.garden_id = ? AND variety.binned_at IS NULL
    GROUP BY variety.id
    HAVING clumps > 0 OR wish.id IS NOT NULL
    UNION ALL
    SELECT NULL, NULL, 0, 0, count(*) AS clumps FROM clump
    WHERE season_id = ? AND variety_id IS NULL AND binned_at IS NULL
    HAVING clumps > 0
"""
