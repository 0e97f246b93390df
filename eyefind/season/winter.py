"""Winter: when wounds are dry, when to check, what was found, what to do."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from importlib.resources import files
from math import sqrt

from eyefind.errors import UsageError
from eyefind.rules import Rules
from eyefind.season.ledger import Ledger
from eyefind.season.tables import (
    RESULTS,
    Clump,
    Season,
    StoreCheck,
    StoredPiece,
)

LAST_CHECK_MONTH_DAY = (3, 15)
"""The last check; then the waking begins (common practice, no source)."""


@dataclass(frozen=True)
class Advice:
    """What to do with what was found, what to mind, and where that comes from."""

    do: str
    caution: str
    source: str


@dataclass(frozen=True)
class Day:
    """A day of the winter: a check of the store, or wounds that are dry."""

    on: date
    what: str
    why: str


@dataclass(frozen=True)
class Loss:
    """What was lost of a group of pieces.

    Attributes
    ----------
    group : str
        Variety, box, or ``"cut"`` and ``"whole"``.
    pieces, lost : int
        Pieces that were checked at least once, and those of them soft or lost at the
        last check.
    low, high : float
        95 % interval of the loss (Wilson 1927, J. Am. Stat. Assoc. 22:209-212).
    """

    group: str
    pieces: int
    lost: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Share that was lost."""
        return self.lost / self.pieces if self.pieces else 0.0


def load_advice() -> dict[str, Advice]:
    """Return what to do by result."""
    text = files("eyefind.season").joinpath("winter.toml").read_text("utf-8")
    return {name: Advice(**entry) for name, entry in tomllib.loads(text).items()}


def band_words(rules: Rules) -> list[str]:
    """Return the band of temperature and humidity, with its sources, in words."""
    low, high = rules["store_low_c"], rules["store_high_c"]
    dry, damp = rules["store_low_humidity"], rules["store_high_humidity"]
    return [
        f"Keep the store between {low.value:g} and {high.value:g} deg C. "
        f"Sources: {low.source}; {high.source}.",
        "Frozen tubers die; swings of temperature bring dew, and dew brings rot "
        "(Minnesota Dahlia Society).",
        f"Keep the air between {dry.value:g} and {damp.value:g} % humidity. "
        f"Sources differ: {dry.source}; {damp.source}.",
    ]


def winter_days(ledger: Ledger, season: Season, rules: Rules) -> list[Day]:
    """Return when wounds are dry and when to check.

    Parameters
    ----------
    ledger : Ledger
        The ledger; what was cut or lifted on which day is in it.
    season : Season
        The season.
    rules : Rules
        ``wound_drying_h`` and ``check_interval_days``.

    Returns
    -------
    list of Day
        In order; empty when no clump has a day yet.
    """
    clumps = ledger.rows(Clump, "season_id = ?", season.id)
    cut = sorted({date.fromisoformat(c.cut_on) for c in clumps if c.cut_on})
    starts = cut or sorted(
        {date.fromisoformat(c.lifted_on) for c in clumps if c.lifted_on}
    )
    dry, every = rules["wound_drying_h"], rules["check_interval_days"]
    # Cuts are made until evening: a day begun is a day waited.
    wait = timedelta(days=max(1, -int(-dry.value // 24)))
    days = [
        Day(
            day + wait,
            f"Wounds of {day:%d %B} may be dry: feel them, then pack",
            f"{dry.value:g} h; sources say {dry.low:g} to {dry.high:g} h: {dry.source}",
        )
        for day in cut
    ]
    if starts:
        check = starts[-1] + timedelta(days=every.value)
        last = date(season.year + 1, *LAST_CHECK_MONTH_DAY)
        while check <= last:
            days.append(
                Day(
                    check,
                    "Check the store",
                    f"every {every.value:g} days: {every.source}",
                )
            )
            check += timedelta(days=every.value)
    return sorted(days, key=lambda day: day.on)


def note_check(
    ledger: Ledger,
    pieces: Sequence[StoredPiece],
    result: str,
    day: date,
    note: str = "",
) -> Advice:
    """Enter what a check found.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    pieces : sequence of StoredPiece
        The pieces.
    result : str
        One of `RESULTS`.
    day : date
        When.
    note : str
        In the grower's words.

    Returns
    -------
    Advice
        What to do.

    Raises
    ------
    UsageError
        If there is no such result.
    """
    for known in RESULTS:
        if known == result:
            break
    else:
        raise UsageError(
            f"A check cannot find '{result}'.", f"Say one of: {', '.join(RESULTS)}."
        )
    with ledger.deed(f"{len(pieces)} checked: {result}") as deed:
        for piece in pieces:
            deed.add(
                StoreCheck(
                    piece_id=piece.id, on_day=day.isoformat(), result=known, note=note
                )
            )
    return load_advice()[result]


def losses(ledger: Ledger, season: Season, by: str) -> list[Loss]:
    """Return what was lost by variety, by box, or of cut and of whole pieces.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    by : str
        ``"variety"``, ``"box"`` or ``"cut"``.

    Returns
    -------
    list of Loss
        By group; only pieces that were checked.
    """
    groups: dict[str, list[bool]] = {}
    for row in ledger.ask(_CHECKED, season.id):
        groups.setdefault(row[by] or "none", []).append(bool(row["gone"]))
    return [
        Loss(group, len(gone), sum(gone), *wilson(sum(gone), len(gone)))
        for group, gone in sorted(groups.items())
    ]


def wilson(found: int, of: int, z: float = 1.96) -> tuple[float, float]:
    """Return Wilson's interval of a share, 95 % for the default `z`."""
    if of == 0:
        return 0.0, 1.0
    share = found / of
    middle = share + z * z / (2 * of)
    half = z * sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    below = 1 + z * z / of
    return max(0.0, (middle - half) / below), min(1.0, (middle + half) / below)


_CHECKED = """
    SELECT variety, box, gone, CASE whole WHEN 1 THEN 'whole' ELSE 'cut' END AS cut
    FROM piece_seen WHERE season_id = ? AND result IS NOT NULL
"""
