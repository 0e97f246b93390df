"""How far the season is: what waits for the hands, by bed and variety."""

from dataclasses import dataclass
from typing import Final

from eyefind.season.ledger import Ledger
from eyefind.season.tables import Season
from eyefind.words import counted

STATES: Final = ("photograph", "photograph again", "answer", "cut", "done")
"""What a clump waits for, in the order of work."""


@dataclass(frozen=True)
class Waiting:
    """A clump and what it waits for.

    Attributes
    ----------
    clump, variety, bed : str
        Names.
    state : str
        One of `STATES`.
    why : str
        Why another photograph is needed, or how many flags wait for an answer.
    photo : str
        Its photo that counts; "" for none.
    """

    clump: str
    variety: str
    bed: str
    state: str
    why: str
    photo: str


@dataclass(frozen=True)
class Again:
    """A photo that must be taken again, and why."""

    photo: str
    clump: str
    why: str


def waiting(ledger: Ledger, season: Season) -> list[Waiting]:
    """Return all clumps by bed, variety and name, with what each waits for.

    A photo that must be taken again does not hold up a clump that has a better one.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.

    Returns
    -------
    list of Waiting
        One a clump.
    """
    found = []
    for row in ledger.ask(_CLUMPS, season.id):
        if row["cut_on"]:
            state, why = "done", f"cut on {row['cut_on']}"
        elif row["path"] is None:
            state, why = "photograph", ""
        elif row["again"]:
            state, why = "photograph again", row["again"]
        elif row["unanswered"]:
            state, why = "answer", counted(row["unanswered"], "flag")
        else:
            state, why = "cut", ""
        found.append(
            Waiting(
                row["name"],
                row["variety"] or "",
                row["bed"],
                state,
                why,
                row["path"] or "",
            )
        )
    return found


def take_again(ledger: Ledger, season: Season) -> list[Again]:
    """Return the photos that must be taken again: unusable ones, then poor ones.

    A poor photo is left out when its clump has one without faults.
    """
    return [
        Again(row["path"], row["clump"] or "", row["why"])
        for row in ledger.ask(_AGAIN, season.id)
    ]


_CLUMPS = """
    SELECT clump.name, clump.bed, clump.cut_on, variety.name AS variety,
        photo.path, photo.again, photo.unanswered
    FROM clump
    LEFT JOIN variety ON variety.id = clump.variety_id
    LEFT JOIN photo ON photo.id = (
        SELECT id FROM photo WHERE clump_id = clump.id AND binned_at IS NULL
            AND failed = '' ORDER BY again != '', unanswered, taken_at DESC LIMIT 1)
    WHERE clump.season_id = ? AND clump.binned_at IS NULL
    ORDER BY CAST(clump.bed AS INTEGER), clump.bed, variety.name, clump.name
"""

_AGAIN = """
    SELECT photo.path, clump.name AS clump,
        CASE photo.failed WHEN '' THEN photo.again ELSE photo.failed END AS why
    FROM photo LEFT JOIN clump ON clump.id = photo.clump_id
    WHERE photo.season_id = ? AND photo.binned_at IS NULL
        AND (photo.failed != '' OR photo.again != '' AND NOT EXISTS (
            SELECT 1 FROM photo AS other WHERE other.clump_id = photo.clump_id
                AND other.binned_at IS NULL AND other.failed = '' AND other.again = ''))
    ORDER BY photo.failed = '', photo.path
"""
