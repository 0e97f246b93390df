"""From the first word of the season to the clumps: start, take, move, show."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from eyefind.cli.run import telling, with_progress
from eyefind.cli.season.hand import (
    LEDGER,
    AsJson,
    GardenName,
    Hand,
    LedgerFile,
    RulesFile,
    Year,
    in_hand,
    season_app,
    tell,
)
from eyefind.errors import UsageError
from eyefind.words import counted

if TYPE_CHECKING:
    from eyefind.photo import PhotoSet
    from eyefind.season.board import Board
    from eyefind.season.progress import Again, Waiting


@season_app.command()
def start(
    garden: Annotated[
        str, typer.Argument(metavar="GARDEN", help="Name of the garden.")
    ],
    year: Annotated[int, typer.Option(metavar="YEAR", help="Year of the autumn.")],
    ledger: LedgerFile = LEDGER,
) -> None:
    """Start a season; the counts wanted of the last one are taken over."""
    with telling():
        from eyefind.season.garden import start_season
        from eyefind.season.ledger import Ledger

        with Ledger(ledger) as opened:
            start_season(opened, garden, year)
        typer.echo(f"Season {year} of {garden} is in {ledger}.")


@season_app.command()
def variety(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name of the variety.")],
    wanted: Annotated[
        int | None, typer.Option(metavar="N", min=0, help="Plants for next year.")
    ] = None,
    give: Annotated[
        int | None, typer.Option(metavar="N", min=0, help="Plants to give away.")
    ] = None,
    note: Annotated[str | None, typer.Option(metavar="TEXT", help="A note.")] = None,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
) -> None:
    """Say how many plants of a variety are wanted; new ones are added."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.garden import set_wish

        set_wish(hand.ledger, hand.season, name, wanted, give, note)
        typer.echo(f"{name}: kept.")


@season_app.command()
def clump(
    names: Annotated[
        list[str], typer.Argument(metavar="CLUMP...", help="Names, card numbers, 4-9.")
    ],
    of: Annotated[
        str | None, typer.Option("--variety", metavar="NAME", help="Its variety.")
    ] = None,
    bed: Annotated[str | None, typer.Option(metavar="TEXT", help="Its bed.")] = None,
    place: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Where in the bed it stood.")
    ] = None,
    light: Annotated[
        str | None,
        typer.Option(
            metavar="LIGHT", help="raking, slanting, frontal, daylight or flash."
        ),
    ] = None,
    lifted: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day it was lifted.")
    ] = None,
    cut: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="Day it was cut: its pieces stay."),
    ] = None,
    note: Annotated[str | None, typer.Option(metavar="TEXT", help="A note.")] = None,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
) -> None:
    """Say something of clumps; a card number makes one that is not there yet."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.cli.season.hand import read_day
        from eyefind.season.garden import set_clumps

        given = {
            "variety": of,
            "bed": bed,
            "place": place,
            "light": light,
            "lifted_on": lifted and read_day(lifted).isoformat(),
            "cut_on": cut and read_day(cut).isoformat(),
            "note": note,
        }
        values = {key: value for key, value in given.items() if value is not None}
        done = set_clumps(hand.ledger, hand.season, spread(names), values, hand.rules)
        typer.echo(f"Kept for {counted(len(done), 'clump')}.")


@season_app.command()
def take(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder of photos.")],
    cores: Annotated[
        int | None, typer.Option(metavar="N", min=1, help="All cores if not given.")
    ] = None,
    watch: Annotated[
        bool,
        typer.Option("--watch", help="Go on with photos that come; Ctrl-C ends it."),
    ] = False,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
) -> None:
    """Look at all photos of a folder and put them to their clumps.

    What is done is kept: after a stop, run it again and it goes on where it was.
    """
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.batch import new_photos, waiting_photos
        from eyefind.season.board import read_board

        if watch:
            if not folder.is_dir():
                raise UsageError(f"There is no folder {folder}.", "Check its name.")
            typer.echo("Waiting for photos. Ctrl-C ends it.")
        batches = (
            new_photos(hand.ledger, hand.season, folder, hand.rules)
            if watch
            else [waiting_photos(hand.ledger, hand.season, folder, hand.rules)]
        )
        for came in batches:
            if came or not watch:
                _take(hand, came, cores)
                _tell_state(read_board(hand.ledger, hand.season, hand.rules))


@season_app.command()
def clumps(
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    as_json: AsJson = False,
) -> None:
    """List the clumps with their photos and how each photo came there."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.tables import Clump, ClumpPhoto

        found = []
        for one in hand.ledger.rows(Clump, "season_id = ?", hand.season.id):
            photos = hand.ledger.rows(ClumpPhoto, "clump_id = ?", one.id)
            said = [f"{Path(p.path).name} (by {p.placed_by})" for p in photos]
            found.append((one.name, said))
        tell(
            found,
            as_json,
            lambda item: f"{item[0]}: {', '.join(item[1]) or 'no photo'}",
            "There is no clump yet.",
        )


@season_app.command()
def move(
    photo: Annotated[str, typer.Argument(metavar="PHOTO", help="Its file name.")],
    clump: Annotated[
        str | None,
        typer.Argument(metavar="CLUMP", help="Its clump; a new one if not given."),
    ] = None,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
) -> None:
    """Correct where a photo belongs; that stays whatever comes."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.garden import find_clump, find_photo
        from eyefind.season.placing import move_photo

        goal = None if clump is None else find_clump(hand.ledger, hand.season, clump)
        row = find_photo(hand.ledger, hand.season, photo)
        done = move_photo(hand.ledger, row, goal, hand.rules)
        typer.echo(f"{photo} belongs to {done.name}.")


@season_app.command()
def again(
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    as_json: AsJson = False,
) -> None:
    """List what needs another photograph, and why."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.progress import take_again

        def words(item: "Again") -> str:
            return f"{Path(item.photo).name} ({item.clump or 'no clump'}): {item.why}"

        tell(
            take_again(hand.ledger, hand.season),
            as_json,
            words,
            "No photo needs to be taken again.",
        )


@season_app.command()
def show(
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    as_json: AsJson = False,
) -> None:
    """Show what waits for your hands, by bed and variety, and what is short."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.board import group_words, read_board, waiting_words

        board = read_board(hand.ledger, hand.season, hand.rules)

        def words(item: "Waiting") -> str:
            return f"{group_words(item)}: {waiting_words(item)}"

        tell(board.queue, as_json, words, "There is no clump yet.")
        if not as_json:
            _tell_state(board)


def spread(names: list[str]) -> list[str]:
    """Write out runs of card numbers: ``4-6`` is 4, 5 and 6."""
    found: list[str] = []
    for name in names:
        first, dash, last = name.partition("-")
        if dash and first.isdecimal() and last.isdecimal() and int(first) <= int(last):
            found += [str(number) for number in range(int(first), int(last) + 1)]
        else:
            found.append(name)
    return found


def _take(hand: Hand, sets: list["PhotoSet"], cores: int | None) -> None:
    from eyefind.season.batch import look_at_all
    from eyefind.season.placing import place_new

    looked = look_at_all(hand.ledger, hand.season, sets, hand.rules, cores)
    try:
        for one in with_progress(looked, len(sets)):
            said = one.why or (one.reading.again if one.reading else "")
            typer.echo(f"{one.path.name}: {said or 'done'}")
    finally:
        place_new(hand.ledger, hand.season, hand.rules)


def _tell_state(board: "Board") -> None:
    from eyefind.season.board import count_words, state_words

    typer.echo(state_words(board))
    for count in board.short:
        typer.echo(f"Short: {count_words(count)}")
