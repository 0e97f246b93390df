"""What all verbs of the season share: the season in hand, and how it is told."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from eyefind.cli.run import telling
from eyefind.errors import UsageError
from eyefind.season import LEDGER_NAME

if TYPE_CHECKING:
    from eyefind.rules import Rules
    from eyefind.season.ledger import Ledger
    from eyefind.season.tables import Season

season_app = typer.Typer(
    rich_markup_mode=None,
    no_args_is_help=True,
    help="The whole season: counts, labels, store, winter, spring.",
)

LedgerFile = Annotated[
    Path,
    typer.Option(
        "--ledger", metavar="FILE", envvar="EYEFIND_LEDGER", help="The ledger."
    ),
]
LEDGER = Path(LEDGER_NAME)
Year = Annotated[
    int | None, typer.Option(metavar="YEAR", help="Season; the latest if not given.")
]
GardenName = Annotated[
    str | None, typer.Option("--garden", metavar="NAME", help="Garden, if several.")
]
RulesFile = Annotated[
    Path | None,
    typer.Option(
        "--rules", metavar="FILE", help="Your own rules: lines of NAME = VALUE."
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="JSON, for machines.")]
Day = Annotated[
    str | None,
    typer.Option("--day", metavar="DATE", help="2026-11-07; today if not given."),
]
Out = Annotated[Path, typer.Option("--out", metavar="FILE", help="File to write.")]
Yes = Annotated[bool, typer.Option("--yes", help="Do not ask again.")]

T = TypeVar("T")


@dataclass(frozen=True)
class Hand:
    """The season in hand.

    Attributes
    ----------
    ledger : Ledger
        The open ledger.
    season : Season
        The season.
    rules : Rules
        The rules of the trade.
    """

    ledger: "Ledger"
    season: "Season"
    rules: "Rules"


@contextmanager
def in_hand(
    ledger_path: Path,
    year: int | None = None,
    garden: str | None = None,
    rules_file: Path | None = None,
) -> Iterator[Hand]:
    """Open the season, with what changed in its records taken over.

    Errors are told in words; the ledger is closed whatever comes.
    """
    with telling():
        from eyefind.rules import load_rules
        from eyefind.season.binding import refresh
        from eyefind.season.garden import find_season

        rules = load_rules(rules_file)
        with opened(ledger_path) as ledger:
            season = find_season(ledger, year, garden)
            refresh(ledger, season, rules)
            yield Hand(ledger, season, rules)


@contextmanager
def opened(ledger_path: Path) -> Iterator["Ledger"]:
    """Open a ledger that exists."""
    from eyefind.season.ledger import Ledger

    if not ledger_path.exists():
        raise UsageError(
            f"There is no ledger {ledger_path}.",
            "Start one with: eyefind season start GARDEN --year YEAR, or name yours "
            "with --ledger.",
        )
    with Ledger(ledger_path) as ledger:
        yield ledger


def read_day(text: str | None) -> date:
    """Read a day; today when none is given.

    Raises
    ------
    UsageError
        If it is none.
    """
    if text is None:
        return date.today()
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(
            f"{text} is no day.", "Write for example: 2026-11-07"
        ) from error


def sure(question: str, yes: bool) -> None:
    """Ask before something is put into the bin.

    Raises
    ------
    UsageError
        If the answer is no.
    """
    if not yes and not typer.confirm(question):
        raise UsageError("Nothing was done.", "It is as it was.")


def tell(
    items: Sequence[T],
    as_json: bool,
    words: Callable[[T], str],
    nothing: str,
) -> None:
    """Print items: a line of words each, or one JSON list."""
    if as_json:
        import msgspec

        typer.echo(msgspec.json.encode(list(items)).decode())
        return
    for item in items:
        typer.echo(words(item))
    if not items:
        typer.echo(nothing)


def tell_written(path: Path, data: bytes) -> None:
    """Write a file and say where."""
    from eyefind.record import write_bytes

    write_bytes(path, data)
    typer.echo(f"Written: {path}")
