"""The verbs and their options (docs/command-line.md)."""

import logging
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from eyefind import __version__
from eyefind.cli.run import photo_sets, run_photos, telling
from eyefind.cli.season import season_app

if TYPE_CHECKING:
    from eyefind.job import Job

# Without rich's markup the help loads in half the time and reads well aloud.
app = typer.Typer(
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    add_completion=False,
)
app.add_typer(season_app, name="season")


class StyleName(StrEnum):
    """The styles of `eyefind.data.Style`, by name: that module loads numpy."""

    WHOLE = "whole"
    STEMS = "stems"
    SINGLES = "singles"
    LEAST = "least"


class PaperName(StrEnum):
    """The papers of `eyefind.sheet.Paper`, by name."""

    A4 = "A4"
    LETTER = "Letter"


Photos = Annotated[
    list[Path],
    typer.Argument(metavar="PHOTO...", help="Photos, or folders of photos."),
]
Out = Annotated[
    Path | None,
    typer.Option(
        metavar="DIR",
        help="Folder for records and sheets; they lie beside the photo otherwise.",
    ),
]
RulesFile = Annotated[
    Path | None,
    typer.Option(
        "--rules", metavar="FILE", help="Your own rules: lines of NAME = VALUE."
    ),
]
PointsText = Annotated[
    str | None,
    typer.Option(
        metavar="ROW,COL,ROW,COL",
        help="Two points in the photo that are --length apart (one photo only).",
    ),
]
Length = Annotated[
    float | None, typer.Option(metavar="MM", help="Distance of the two --points, mm.")
]
Width = Annotated[
    float | None,
    typer.Option(metavar="MM", help="Longest side of the clump, mm (one photo only)."),
]
OneSet = Annotated[
    bool,
    typer.Option(
        "--set", help="The photos are one view, the lamp moved; the main one first."
    ),
]
StyleOption = Annotated[
    StyleName | None,
    typer.Option(
        help="whole: only clean it. stems: one piece a stem. singles: as many safe "
        "pieces as possible. least: the fewest cuts that give a second safe piece. "
        "If not given: as in the last plan, or else singles.",
    ),
]
Pieces = Annotated[
    int | None, typer.Option(metavar="N", min=1, help="Not more pieces than this.")
]
Room = Annotated[
    float | None,
    typer.Option(
        metavar="LITRES", min=0.1, help="Room left in the store: few cuts that fit."
    ),
]
PaperOption = Annotated[
    PaperName, typer.Option(case_sensitive=False, help="Paper of the sheet.")
]
AsJson = Annotated[
    bool, typer.Option("--json", help="One JSON object a photo, for machines.")
]
Words = list[str] | None


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"eyefind {__version__}")
        raise typer.Exit


@app.callback()
def options(
    trace: Annotated[
        bool, typer.Option("--trace", help="Show where an unexpected error arose.")
    ] = False,
    version: Annotated[
        bool,
        typer.Option("--version", is_eager=True, callback=_show_version, help="Show."),
    ] = False,
) -> None:
    """Find likely eyes on photographed dahlia crowns and suggest where to cut.

    It only advises: look at the clump itself before you cut.
    """
    if trace:
        logging.basicConfig()
        logging.getLogger("eyefind").setLevel(logging.DEBUG)


@app.command()
def card(
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder to write it to.")
    ] = Path(),
    first: Annotated[
        int, typer.Option(metavar="N", help="Number of the first card of a run.")
    ] = 1,
    count: Annotated[
        int | None,
        typer.Option(metavar="N", help="How many numbered cards, each with a code."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Write the bench card, or a run of numbered ones, to be printed at 100 %."""
    with telling():
        from eyefind.cli.report import tell_files
        from eyefind.photo import write_card, write_numbered_cards

        written = (
            write_card(out)
            if count is None
            else write_numbered_cards(out, first, count)
        )
        tell_files(written, as_json)


@app.command()
def look(
    photos: Photos,
    out: Out = None,
    points: PointsText = None,
    length: Length = None,
    width: Width = None,
    one_set: OneSet = False,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """Flag likely eyes and the rest, and write the record."""
    with telling():
        job = _job(out, rules, points, length, width)
        sets = photo_sets(photos, job, one_set)
        run_photos(sets, job.look, as_json, single=job.ruler is not None)


@app.command()
def plan(
    photos: Photos,
    out: Out = None,
    style: StyleOption = None,
    pieces: Pieces = None,
    room: Room = None,
    points: PointsText = None,
    length: Length = None,
    width: Width = None,
    one_set: OneSet = False,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """Plan the cuts; looks first where that was not done."""
    with telling():
        job = _job(out, rules, points, length, width)
        job = _wishing(job, style, pieces, room)
        sets = photo_sets(photos, job, one_set)
        run_photos(sets, job.plan, as_json, single=job.ruler is not None)


@app.command()
def sheet(
    photos: Photos,
    out: Out = None,
    style: StyleOption = None,
    pieces: Pieces = None,
    room: Room = None,
    paper: PaperOption = PaperName.A4,
    points: PointsText = None,
    length: Length = None,
    width: Width = None,
    one_set: OneSet = False,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """Write the sheet to work from; does all before it too."""
    with telling():
        job = _job(out, rules, points, length, width)
        job = _wishing(job, style, pieces, room)
        job = replace(job, paper=paper.value)
        sets = photo_sets(photos, job, one_set)
        run_photos(sets, job.sheet, as_json, single=job.ruler is not None)


@app.command()
def answer(
    photo: Annotated[Path, typer.Argument(metavar="PHOTO", help="The photo.")],
    confirm: Annotated[
        Words, typer.Option(metavar="FLAG", help="It is what it is flagged as.")
    ] = None,
    reject: Annotated[Words, typer.Option(metavar="FLAG", help="It is not.")] = None,
    not_sure: Annotated[
        Words, typer.Option(metavar="FLAG", help="You looked and cannot tell.")
    ] = None,
    add_eye: Annotated[
        list[str] | None,
        typer.Option(metavar="ROW,COL", help="An eye that you see there."),
    ] = None,
    undo: Annotated[
        bool, typer.Option("--undo", help="Take back the last answer.")
    ] = False,
    redo: Annotated[
        bool, typer.Option("--redo", help="Bring back the answer taken back.")
    ] = False,
    from_file: Annotated[
        Path | None,
        typer.Option(
            "--from", metavar="FILE", help="Answers, one a line: E1 confirmed"
        ),
    ] = None,
    by: Annotated[str, typer.Option(metavar="NAME", help="Who answers.")] = "grower",
    out: Out = None,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """Answer the flags of one photo, or list them."""
    with telling():
        from eyefind.cli.answers import Answers, gather

        words = gather(confirm, reject, not_sure, from_file)
        answers = Answers(words, add_eye or [], undo, redo, by)
        job = _job(out, rules)
        run_photos(
            photo_sets([photo], job),
            lambda path, _: job.answer(
                path, lambda review: answers.say(review, job.rules)
            ),
            as_json,
            single=True,
        )


@app.command()
def side(
    main: Annotated[
        Path, typer.Argument(metavar="MAIN", help="The photo that is planned on.")
    ],
    other: Annotated[
        Path, typer.Argument(metavar="SIDE", help="A photo of another side of it.")
    ],
    yes: Annotated[bool, typer.Option("--yes", help="Take what is suggested.")] = False,
    match: Annotated[
        Words,
        typer.Option(metavar="T1=T3", help="T1 of MAIN is T3 of SIDE; many times."),
    ] = None,
    none: Annotated[
        bool, typer.Option("--none", help="SIDE is not this clump after all.")
    ] = False,
    by: Annotated[str, typer.Option(metavar="NAME", help="Who says it.")] = "grower",
    out: Out = None,
    rules: RulesFile = None,
    as_json: AsJson = False,
) -> None:
    """Say which tuber is which on a photo of another side of one clump."""
    with telling():
        from eyefind.cli.sides import Wanted, run_side

        job = _job(out, rules)
        run_side(job, main, other, Wanted(yes, match or [], none, by), as_json)


@app.command()
def review(
    paths: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="PHOTO|FOLDER|RECORD...",
            help="Photos, folders of photos, or records.",
        ),
    ] = None,
    out: Out = None,
) -> None:
    """Answer the flags on the screen, one at a time (needs napari)."""
    with telling():
        from eyefind.cli.window import open_window

        open_window(paths or [], out)


def main() -> None:
    """Run the command line."""
    app()


def _job(
    out: Path | None,
    rules_file: Path | None,
    points: str | None = None,
    length_mm: float | None = None,
    width_mm: float | None = None,
) -> "Job":
    from eyefind.cli.ruler import read_ruler
    from eyefind.job import Job
    from eyefind.rules import load_rules

    ruler = read_ruler(points, length_mm, width_mm)
    return Job(load_rules(rules_file), out, ruler)


def _wishing(
    job: "Job", style: StyleName | None, pieces: int | None, room_l: float | None
) -> "Job":
    return replace(
        job,
        style=None if style is None else style.value,
        most_pieces=pieces,
        room_l=room_l,
    )
