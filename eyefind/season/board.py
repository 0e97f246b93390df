"""The season at a glance, in plain words: for the command line and the window."""

from dataclasses import dataclass

from eyefind.rules import Rules
from eyefind.season.counts import VarietyCount, count_varieties
from eyefind.season.ledger import Ledger
from eyefind.season.progress import STATES, Waiting, waiting
from eyefind.season.tables import Season
from eyefind.words import counted


@dataclass(frozen=True)
class Board:
    """What waits for the hands, how far the season is, and what is short.

    Attributes
    ----------
    queue : list of Waiting
        All clumps by bed, variety and name.
    short : list of VarietyCount
        Varieties whose chance of reaching their count is below ``reach_chance``.
    """

    queue: list[Waiting]
    short: list[VarietyCount]

    @property
    def done(self) -> int:
        """How many clumps are cut."""
        return sum(item.state == "done" for item in self.queue)


def read_board(ledger: Ledger, season: Season, rules: Rules) -> Board:
    """Read the board off the ledger.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    rules : Rules
        ``reach_chance`` and ``storage_loss``.

    Returns
    -------
    Board
        As the season now is.
    """
    wished = rules.value("reach_chance")
    counts = count_varieties(ledger, season, rules)
    return Board(
        waiting(ledger, season), [count for count in counts if count.chance < wished]
    )


def state_words(board: Board) -> str:
    """Return how many clumps wait for what, in a line."""
    states = [item.state for item in board.queue]
    said = [
        f"{states.count(state)} {_to(state)}" for state in STATES if state in states
    ]
    return f"{counted(len(states), 'clump')}: {', '.join(said) or 'none yet'}."


def group_words(item: Waiting) -> str:
    """Return bed and variety of a clump: what the queue goes by."""
    bed = f"Bed {item.bed}" if item.bed else "Bed not told"
    return f"{bed}, {item.variety or 'variety not named'}"


def waiting_words(item: Waiting) -> str:
    """Return what a clump waits for, in a line."""
    why = f" ({item.why})" if item.why else ""
    return f"{item.clump}: {_to(item.state)}{why}"


def count_words(count: VarietyCount) -> str:
    """Return how a variety stands, in a line."""
    lack = f"short of {count.short}" if count.short else f"{count.surplus} to spare"
    if not count.short and not count.surplus:
        lack = "just enough to be expected"
    chance = ""
    if count.need > count.safe + count.doubtful:
        chance = "; the pieces are too few for it"
    elif count.need:
        low, high = 100 * count.chance_low, 100 * count.chance_high
        chance = (
            f"; chance of reaching it {100 * count.chance:.0f} % "
            f"({low:.0f} to {high:.0f} %)"
        )
    return (
        f"{count.variety}: {count.wanted} wanted and {count.give_away} to give away; "
        f"{count.safe} safe and {count.doubtful} doubtful pieces of "
        f"{counted(count.clumps, 'clump')}; {lack}{chance}"
    )


def _to(state: str) -> str:
    return state if state == "done" else f"to {state}"
