"""Enough of each, what to divide, and the boxes of the store."""

from math import inf
from typing import TYPE_CHECKING, Annotated

import typer

from eyefind.cli.season.hand import (
    LEDGER,
    AsJson,
    Day,
    GardenName,
    LedgerFile,
    RulesFile,
    Year,
    in_hand,
    read_day,
    season_app,
    tell,
)
from eyefind.errors import UsageError
from eyefind.words import counted

if TYPE_CHECKING:
    from eyefind.season.dividing import Choice, Suggestion
    from eyefind.season.store import FilledBox


@season_app.command()
def enough(
    loss: Annotated[
        float | None,
        typer.Option(metavar="SHARE", help="Share that the store loses; kept: 0.08"),
    ] = None,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """Compare safe and doubtful pieces with what is wanted, variety by variety."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.board import count_words
        from eyefind.season.counts import count_varieties, loss_of

        season = hand.season
        if loss is not None:
            if not 0 <= loss <= 1:
                raise UsageError(f"A loss of {loss:g} makes no sense.", "Give 0 to 1.")
            with hand.ledger.deed(f"loss in store {loss:g}") as deed:
                season = deed.change(season, loss=loss)
        if not as_json:
            rule = hand.rules["storage_loss"]
            typer.echo(
                f"Loss in store: {100 * loss_of(season, hand.rules):g} % (sources say "
                f"{100 * rule.low:g} to {100 * rule.high:g} %: {rule.source})."
            )
        counts = count_varieties(hand.ledger, season, hand.rules)
        tell(counts, as_json, count_words, "No variety is known yet.")


@season_app.command()
def divide(
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """Suggest which clumps to divide and which to keep whole, over the season."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.dividing import suggest

        found = suggest(hand.ledger, hand.season, hand.rules)
        tell(found.choices, as_json, choice_words, "There is no clump to divide yet.")
        if found.choices and not as_json:
            typer.echo(suggestion_words(found))


def choice_words(choice: "Choice") -> str:
    """Return what is suggested for a clump, in a line."""
    from eyefind.season.dividing import CUT, OUT

    option = choice.option
    count = len(option.chances)
    pieces, cuts = counted(count, "piece"), counted(option.cuts, "cut")
    if option.style == OUT:
        what = "no room in store: give it away or find room"
    elif option.style == CUT:
        what = f"is cut already: {pieces}"
    elif count == 1:
        what = "keep it whole"
    else:
        what = f"divide into {pieces}, {cuts} (style {option.style})"
    return f"{choice.clump} ({choice.variety}): {what}"


def suggestion_words(found: "Suggestion") -> str:
    """Return room and shortage in words."""
    room = f"Room: {found.litres:.0f} of {found.room:.0f} l."
    if found.room == inf:
        room = f"Room: {found.litres:.0f} l; no box is known."
    short = ", ".join(
        f"{name} by {plants:.1f}"
        for name, plants in found.short.items()
        if round(plants, 1)
    )
    proven = "Nothing better exists." if found.proven else "Best in the time given."
    return (
        f"{room} Plants short of what makes the counts likely: {short or 'none'}. "
        f"{proven} It only suggests: look at each clump before you cut."
    )


@season_app.command()
def box(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name of the box.")],
    litres: Annotated[float, typer.Option(metavar="L", help="What it holds, litres.")],
    note: Annotated[str, typer.Option(metavar="TEXT", help="A note.")] = "",
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
) -> None:
    """Add a box to the store, or change it."""
    with in_hand(ledger, year, garden) as hand:
        from eyefind.season.garden import set_box

        set_box(hand.ledger, hand.season, name, litres, note)
        typer.echo(f"Box {name}: kept.")


@season_app.command()
def pack(
    keep: Annotated[
        bool, typer.Option("--keep", help="Write the plan into the ledger.")
    ] = False,
    day: Day = None,
    ledger: LedgerFile = LEDGER,
    year: Year = None,
    garden: GardenName = None,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """Say which piece goes into which box and layer."""
    with in_hand(ledger, year, garden, rules) as hand:
        from eyefind.season.store import keep_plan, plan_boxes

        plan = plan_boxes(hand.ledger, hand.season, hand.rules, read_day(day))
        tell(plan.boxes, as_json, box_words, "There is no box yet.")
        if not as_json:
            for rule in ("packing_fraction", "clump_packing_fraction"):
                found = hand.rules[rule]
                typer.echo(
                    f"{found.says.rstrip('.')}: {found.value:g} ({found.source})."
                )
            for piece in plan.left:
                typer.echo(f"No room: {piece.clump}-{piece.letter} {piece.variety}")
        if keep:
            keep_plan(hand.ledger, plan)
            typer.echo("The box plan is in the ledger.")


def box_words(filled: "FilledBox") -> str:
    """Return what goes into a box, from the bottom up."""
    from eyefind.season.labels import piece_name

    lines = [
        f"Box {filled.box.name}: {filled.litres:.1f} of {filled.box.litres:g} l "
        f"(pieces measured to ± {filled.litres_sd:.1f} l)"
    ]
    for layer in ("bottom", "middle", "top"):
        inside = [
            f"{piece_name(piece.clump, piece.letter)} {piece.variety}".strip()
            for piece in filled.pieces
            if piece.layer == layer
        ]
        if inside:
            lines.append(f"  {layer}: {', '.join(inside)}")
    return "\n".join(lines)
