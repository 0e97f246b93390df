"""Winter and spring: check, losses, wake, grew, accuracy."""

from typing import TYPE_CHECKING, Annotated

import typer

from eyefind.cli.season.hand import (
    LEDGER,
    AsJson,
    Day,
    GardenName,
    Hand,
    LedgerFile,
    RulesFile,
    Year,
    in_hand,
    read_day,
    season_app,
    tell,
)
from eyefind.cli.season.paper import LOSS_BY, TRUTH_BY, By, check_by
from eyefind.words import counted

if TYPE_CHECKING:
    from eyefind.season.spring import Truth, Waking
    from eyefind.season.tables import StoredPiece
    from eyefind.season.winter import Loss

Pieces = Annotated[
    list[str],
    typer.Argument(metavar="PIECE...", help="Such as 17-B; all: every piece."),
]
Note = Annotated[str, typer.Option(metavar="TEXT", help="A note.")]


@season_app.command()
def winter(
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
) -> None:
    """Say when wounds are dry, when to check, how cold and how damp."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.winter import band_words, winter_days

        for line in band_words(hand.rules):
            typer.echo(line)
        for day in winter_days(hand.ledger, hand.season, hand.rules):
            typer.echo(f"{day.on.isoformat()}: {day.what} ({day.why})")


@season_app.command()
def check(
    result: Annotated[
        str,
        typer.Argument(
            metavar="RESULT", help="sound, shrivelled, soft, sprouted or lost."
        ),
    ],
    pieces: Pieces,
    day: Day = None,
    note: Note = "",
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
) -> None:
    """Enter what a check of the store found, and say what to do."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.winter import note_check

        found = _pieces(hand, pieces)
        advice = note_check(hand.ledger, found, result, read_day(day), note)
        typer.echo(f"{counted(len(found), 'piece')} {result}: kept.")
        typer.echo(f"What to do: {advice.do}")
        typer.echo(f"Mind: {advice.caution}")
        typer.echo(f"Source: {advice.source}")


@season_app.command()
def losses(
    by: Annotated[By, typer.Option(help="variety, box or cut.")] = By.VARIETY,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    as_json: AsJson = False,
) -> None:
    """Tell what was lost in store."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.winter import losses as losses_of

        found = losses_of(hand.ledger, hand.season, check_by(by, LOSS_BY))
        tell(found, as_json, loss_words, "No piece was checked yet.")


def loss_words(loss: "Loss") -> str:
    """Return what was lost of a group, in a line."""
    return (
        f"{loss.group}: {loss.lost} of {loss.pieces} lost or soft, "
        f"{100 * loss.share:.0f} % (95 % interval {100 * loss.low:.0f} to "
        f"{100 * loss.high:.0f} %)"
    )


@season_app.command()
def wake(
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """List the pieces to wake, doubtful ones first."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.labels import piece_name
        from eyefind.season.spring import wake_first

        def words(item: "Waking") -> str:
            where = f", box {item.box}" if item.box else ""
            name = piece_name(item.clump, item.letter)
            why = f": {item.why}" if item.why else ""
            return f"{name} {item.variety}{where}{why}"

        tell(wake_first(hand.ledger, hand.season), as_json, words, "Nothing to wake.")
        if not as_json:
            rule = hand.rules["wake_days"]
            typer.echo(
                f"Wake the doubtful ones {rule.value:g} to {rule.high:g} days before "
                f"the others. Sources: {rule.source}."
            )


@season_app.command()
def grew(
    outcome: Annotated[
        str, typer.Argument(metavar="OUTCOME", help="shot, blind or rotted.")
    ],
    pieces: Pieces,
    shoots: Annotated[
        int | None, typer.Option(metavar="N", min=0, help="How many shoots.")
    ] = None,
    day: Day = None,
    note: Note = "",
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
) -> None:
    """Enter what became of pieces in spring."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.spring import note_growth

        found = _pieces(hand, pieces)
        note_growth(hand.ledger, found, outcome, read_day(day), shoots, note)
        typer.echo(f"{counted(len(found), 'piece')} {outcome}: kept.")


@season_app.command()
def accuracy(
    by: Annotated[By, typer.Option(help="all, variety or light.")] = By.ALL,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    as_json: AsJson = False,
) -> None:
    """Compare what was flagged with what grew: your own season's accuracy."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.spring import own_accuracy

        found = own_accuracy(hand.ledger, hand.season, check_by(by, TRUTH_BY))
        tell(found, as_json, truth_words, "Nothing grew yet, or it was not entered.")


def truth_words(truth: "Truth") -> str:
    """Return what the flags of a group were worth, in a line."""
    safe = "no piece was called safe"
    if truth.safe:
        safe = (
            f"{truth.safe_shot} of {truth.safe} safe ones shot, "
            f"{100 * truth.safe_shot / truth.safe:.0f} % (95 % interval "
            f"{100 * truth.low:.0f} to {100 * truth.high:.0f} %)"
        )
    return (
        f"{truth.group}: {truth.shot} of {truth.pieces} pieces shot, "
        f"{truth.expected:.1f} were to be expected; of {truth.flagged} on which an eye "
        f"had been found {truth.flagged_shot} shot, and {truth.missed} shot on which "
        f"none had been found; {safe}; "
        f"{truth.doubtful_shot} of {truth.doubtful} doubtful ones shot; "
        f"squared error {truth.brier:.2f}"
    )


def _pieces(hand: Hand, names: list[str]) -> "list[StoredPiece]":
    from eyefind.season.garden import all_pieces, find_piece

    if names == ["all"]:
        return all_pieces(hand.ledger, hand.season)
    return [find_piece(hand.ledger, hand.season, name) for name in names]
