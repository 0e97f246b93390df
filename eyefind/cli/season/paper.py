"""What is printed or drawn: labels, check list, calendar, plots."""

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from eyefind.cli.season.hand import (
    LEDGER,
    Day,
    GardenName,
    LedgerFile,
    Out,
    RulesFile,
    Year,
    in_hand,
    read_day,
    season_app,
    tell_written,
)
from eyefind.errors import UsageError


class By(StrEnum):
    """What plots and tables go by."""

    ALL = "all"
    VARIETY = "variety"
    BOX = "box"
    CUT = "cut"
    LIGHT = "light"


class What(StrEnum):
    """What is plotted."""

    ENOUGH = "enough"
    LOSSES = "losses"
    ACCURACY = "accuracy"


class PaperSize(StrEnum):
    """The papers of `eyefind.sheet.pages.Paper`, by name."""

    A4 = "A4"
    LETTER = "Letter"


@season_app.command()
def labels(
    size: Annotated[
        str,
        typer.Option(metavar="SIZE", help="A4-24, tag-100x16 ...; 'list' names them."),
    ] = "A4-24",
    boxes: Annotated[
        bool, typer.Option("--boxes", help="Of the boxes instead of the pieces.")
    ] = False,
    skip: Annotated[
        int,
        typer.Option(metavar="N", help="Places of the first sheet that are used up."),
    ] = 0,
    day: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="Only pieces of clumps cut on that day."),
    ] = None,
    out: Out = Path("labels.pdf"),
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
) -> None:
    """Write labels for pieces or boxes, to be printed at 100 %."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.label_sizes import SIZES
        from eyefind.season.labels import box_labels, make_labels, piece_labels
        from eyefind.season.store import plan_boxes

        if size == "list":
            for name, known in SIZES.items():
                typer.echo(f"{name}: {known.label_mm[0]:g} x {known.label_mm[1]:g} mm")
            return
        if boxes:
            plan = plan_boxes(hand.ledger, hand.season, hand.rules, read_day(day))
            texts = box_labels(hand.season, plan)
        else:
            on_day = None if day is None else read_day(day).isoformat()
            texts = piece_labels(hand.ledger, hand.season, on_day)
        tell_written(out, make_labels(texts, size, skip))


@season_app.command()
def checklist(
    day: Day = None,
    paper: Annotated[
        PaperSize, typer.Option(case_sensitive=False, help="Paper.")
    ] = PaperSize.A4,
    out: Out = Path("checklist.pdf"),
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
) -> None:
    """Write the check list of the store, to be printed."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.check_list import check_list

        pages = check_list(
            hand.ledger, hand.season, read_day(day), hand.rules, paper.value
        )
        tell_written(out, pages)


@season_app.command()
def calendar(
    out: Out = Path("season.ics"),
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
) -> None:
    """Write the days of the winter as a calendar file."""
    with in_hand(ledger, year, garden, rules) as hand:
        from datetime import datetime

        from eyefind.season.dates import calendar_file
        from eyefind.season.winter import winter_days

        days = winter_days(hand.ledger, hand.season, hand.rules)
        if not days:
            raise UsageError(
                "No clump has a day yet.",
                "Say when: eyefind season clump CLUMP --lifted DATE or --cut DATE",
            )
        now = datetime.now().astimezone()
        tell_written(out, calendar_file(hand.season, days, now))


@season_app.command()
def plot(
    what: Annotated[What, typer.Argument(help="What to look at.")],
    by: Annotated[By, typer.Option(help="What it goes by.")] = By.VARIETY,
    out: Out = Path("plot.png"),
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
) -> None:
    """Draw what is wanted, what was lost, or what shot."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season import plots
        from eyefind.season.counts import count_varieties
        from eyefind.season.spring import own_accuracy
        from eyefind.season.winter import losses

        if what is What.ENOUGH:
            counts = count_varieties(hand.ledger, hand.season, hand.rules)
            drawn = plots.counts_plot(counts)
        elif what is What.LOSSES:
            found = losses(hand.ledger, hand.season, check_by(by, LOSS_BY))
            drawn = plots.loss_plot(found, by.value)
        else:
            true = own_accuracy(hand.ledger, hand.season, check_by(by, TRUTH_BY))
            drawn = plots.truth_plot(true, by.value)
        tell_written(out, drawn)


LOSS_BY = (By.VARIETY, By.BOX, By.CUT)
TRUTH_BY = (By.ALL, By.VARIETY, By.LIGHT)


def check_by(by: By, known: tuple[By, ...]) -> str:
    """Return `by` if it is one of those that make sense here.

    Raises
    ------
    UsageError
        If it is not.
    """
    if by not in known:
        raise UsageError(
            f"By {by.value} nothing is told here.", f"Say one of: {', '.join(known)}."
        )
    return by.value
