"""Keeping: undo, bin, backup, tables in and out, archive, demo."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from eyefind.cli.run import telling
from eyefind.cli.season.hand import (
    LEDGER,
    GardenName,
    LedgerFile,
    RulesFile,
    Year,
    Yes,
    in_hand,
    opened,
    season_app,
    sure,
    tell_written,
)
from eyefind.errors import ExitCode, UsageError
from eyefind.words import counted


class Thing(StrEnum):
    """What may go into the bin."""

    CLUMP = "clump"
    VARIETY = "variety"
    BOX = "box"
    PHOTO = "photo"


@season_app.command()
def undo(ledger: LedgerFile = LEDGER, rules: RulesFile = None) -> None:
    """Take back what was done last; again and again, back to the beginning."""
    with telling(), opened(ledger) as open_ledger:
        from eyefind.rules import load_rules
        from eyefind.season.binding import undo as take_back

        what = take_back(open_ledger, load_rules(rules))
        if what is None:
            raise UsageError("There is nothing to take back.", "Nothing was changed.")
        typer.echo(f"Taken back: {what}")


@season_app.command()
def redo(ledger: LedgerFile = LEDGER, rules: RulesFile = None) -> None:
    """Bring back what was taken back last."""
    with telling(), opened(ledger) as open_ledger:
        from eyefind.rules import load_rules
        from eyefind.season.binding import redo as bring_back

        what = bring_back(open_ledger, load_rules(rules))
        if what is None:
            raise UsageError("There is nothing to bring back.", "Nothing was changed.")
        typer.echo(f"Brought back: {what}")


@season_app.command()
def history(
    count: Annotated[int, typer.Option(metavar="N", min=1, help="How many.")] = 20,
    ledger: LedgerFile = LEDGER,
) -> None:
    """List what was done, newest first."""
    with telling(), opened(ledger) as open_ledger:
        for at, what in open_ledger.deeds(count):
            typer.echo(f"{at[:16].replace('T', ' ')}  {what}")


@season_app.command("bin")
def bin_thing(
    what: Annotated[Thing, typer.Argument(help="What it is.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="Its name.")],
    yes: Yes = False,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
) -> None:
    """Put something into the bin; it can be taken out again."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.bin import put_into_bin

        sure(f"Put {what.value} {name} into the bin?", yes)
        put_into_bin(hand.ledger, hand.season, what.value, name)
        typer.echo(f"{what.value} {name} is in the bin.")


@season_app.command()
def unbin(
    number: Annotated[
        int | None, typer.Argument(metavar="NUMBER", help="Its number in the bin.")
    ] = None,
    ledger: LedgerFile = LEDGER,
) -> None:
    """List what is in the bin, or take something out by its number."""
    with telling(), opened(ledger) as open_ledger:
        from eyefind.season.bin import in_bin, take_out

        if number is not None:
            typer.echo(f"Taken out: {take_out(open_ledger, number)}")
            return
        things = in_bin(open_ledger)
        for place, thing in enumerate(things, 1):
            typer.echo(f"{place}  {thing.words}, since {thing.row.binned_at}")
        if not things:
            typer.echo("The bin is empty.")


@season_app.command()
def backup(
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The copy; named by time otherwise."),
    ] = None,
    ledger: LedgerFile = LEDGER,
) -> None:
    """Copy the ledger; it may be in use meanwhile."""
    with telling(), opened(ledger) as open_ledger:
        from datetime import datetime

        name = f"{ledger.stem}.{datetime.now():%Y%m%d-%H%M%S}{ledger.suffix}"
        goal = out or ledger.with_name(name)
        open_ledger.backup(goal)
        typer.echo(f"Written: {goal}")


@season_app.command()
def verify(ledger: LedgerFile = LEDGER) -> None:
    """Test whether the ledger is sound and agrees with the records."""
    with telling(), opened(ledger) as open_ledger:
        from eyefind.season.health import disagreements

        found = disagreements(open_ledger)
        for fault in found:
            typer.echo(fault)
        typer.echo(
            f"{counted(len(found), 'fault')}." if found else "The ledger is sound."
        )
        if found:
            raise typer.Exit(ExitCode.BAD_RECORD)


@season_app.command()
def rebuild(
    folders: Annotated[
        list[Path], typer.Argument(metavar="DIR...", help="Where the records lie.")
    ],
    name: Annotated[
        str,
        typer.Option("--garden", metavar="NAME", help="For records that name none."),
    ] = "garden",
    year: Annotated[
        int, typer.Option(metavar="YEAR", help="For records that name none.")
    ] = 0,
    yes: Yes = False,
    ledger: LedgerFile = LEDGER,
    rules: RulesFile = None,
) -> None:
    """Build the ledger again from what can be read of it and from the records."""
    with telling():
        from datetime import date

        from eyefind.rules import load_rules
        from eyefind.season.health import rebuild as build_again

        sure(f"Close other windows. Build {ledger} again? A copy is kept.", yes)
        fallback = year or date.today().year
        new, lost = build_again(ledger, folders, load_rules(rules), name, fallback)
        new.close()
        typer.echo(f"Built again: {ledger}")
        for what in lost:
            typer.echo(f"Could not be read: {what}")


@season_app.command("export")
def export_tables(
    out: Annotated[
        Path,
        typer.Option(metavar="DIR|FILE.xlsx", help="Folder for CSV, or spreadsheet."),
    ],
    ledger: LedgerFile = LEDGER,
) -> None:
    """Write every table as CSV or as a spreadsheet."""
    with telling(), opened(ledger) as open_ledger:
        from eyefind.season.exchange import write_csv, write_spreadsheet

        if out.suffix.lower() == ".xlsx":
            write_spreadsheet(open_ledger, out)
        else:
            write_csv(open_ledger, out)
        typer.echo(f"Written: {out}")


@season_app.command("import")
def import_tables(
    source: Annotated[
        Path,
        typer.Argument(metavar="SOURCE", help="CSV folder or file, or spreadsheet."),
    ],
    ledger: LedgerFile = LEDGER,
) -> None:
    """Take in tables that were changed elsewhere; undo takes all back."""
    with telling(), opened(ledger) as open_ledger:
        from eyefind.season.exchange import read_tables

        typer.echo(
            f"Added or changed: {counted(read_tables(open_ledger, source), 'row')}."
        )


@season_app.command()
def coco(
    out: Annotated[Path, typer.Option(metavar="FILE", help="File to write.")] = Path(
        "flags.coco.json"
    ),
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
) -> None:
    """Write all flags as COCO keypoints."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.coco import coco_file
        from eyefind.season.tables import ClumpPhoto

        query = "season_id = ? AND record_path != '' AND failed = ''"
        photos = hand.ledger.rows(ClumpPhoto, query, hand.season.id)
        tell_written(out, coco_file([Path(p.record_path or "") for p in photos]))


@season_app.command("zip")
def zip_season(
    out: Annotated[Path, typer.Option(metavar="FILE", help="File to write.")] = Path(
        "season.zip"
    ),
    photos: Annotated[
        bool, typer.Option("--photos/--no-photos", help="With the photos.")
    ] = True,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
) -> None:
    """Put the season into one file: ledger, records, photos."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.archive import pack

        count = pack(hand.ledger, hand.season, out, photos)
        typer.echo(f"Written: {out} ({counted(count, 'file')})")


@season_app.command()
def restore(
    source: Annotated[Path, typer.Argument(metavar="FILE", help="What zip wrote.")],
    out: Annotated[Path, typer.Option(metavar="DIR", help="A new folder.")],
) -> None:
    """Bring a season back from its zip file into a new folder."""
    with telling():
        from eyefind.season.archive import unpack

        typer.echo(f"The ledger is: {unpack(source, out)}")


@season_app.command()
def demo(
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where to.")] = Path(
        "demo-season"
    ),
) -> None:
    """Make the demo season: an invented garden of 12 varieties and 40 clumps."""
    with telling():
        from eyefind.season.demo import make_demo

        for line in make_demo(out):
            typer.echo(line)
