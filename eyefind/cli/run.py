"""Running a step over photos: one bad photo never stops the others."""

import logging
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

from eyefind.errors import ExitCode, EyefindError, UsageError

if TYPE_CHECKING:
    from eyefind.job import Done, Job
    from eyefind.photo import PhotoSet

T = TypeVar("T")

log = logging.getLogger("eyefind")

Failures = list[tuple[Path, EyefindError]]


@contextmanager
def telling() -> Iterator[None]:
    """Turn every error of the command into words on stderr and an exit code.

    Yields
    ------
    None
        For the command's work.

    Raises
    ------
    typer.Exit
        With the exit code of the error.
    """
    try:
        yield
    except EyefindError as error:
        tell_error(error)
        raise typer.Exit(error.exit_code) from error
    except KeyboardInterrupt as error:
        typer.echo("Stopped. What was finished before is on disk.", err=True)
        raise typer.Exit(ExitCode.STOPPED) from error
    except (BrokenPipeError, typer.Exit):
        raise
    except Exception as error:
        tell_error(as_ours(error))
        raise typer.Exit(ExitCode.BROKEN) from error


def tell_error(error: EyefindError) -> None:
    """Print what is wrong, then what to do, on stderr."""
    typer.echo(f"{error.what}\n  {error.advice}", err=True)


def as_ours(error: Exception) -> EyefindError:
    """Put an unexpected error into words; its trace goes to the log."""
    log.debug("unexpected error", exc_info=error)
    said = " ".join(str(error).split()).rstrip(".")
    return EyefindError(
        f"Something inside eyefind went wrong: {type(error).__name__}: {said}.",
        "The photo and all answers are unharmed. Please report it; "
        "'eyefind --trace ...' shows where it arose.",
    )


def run_photos(
    sets: "tuple[list[PhotoSet], Failures]",
    step: "Callable[[Path, list[Path]], Done]",
    as_json: bool,
    single: bool = False,
) -> None:
    """Do a step for each photo, print what came of it, list at the end what failed.

    Parameters
    ----------
    sets : (list of PhotoSet, list of failures)
        What `photo_sets` found.
    step : callable
        Does the work for one photo and the further frames of its lamp set.
    as_json : bool
        Print one JSON object a photo.
    single : bool
        Whether the command makes sense for one photo only.

    Raises
    ------
    UsageError
        If there are several photos where only one makes sense.
    typer.Exit
        With the exit code of the one photo, or `ExitCode.SOME_FAILED`.
    """
    from eyefind.cli.report import tell_done, tell_failure

    photos, failures = sets[0], list(sets[1])
    if single and len(photos) > 1:
        raise UsageError(
            f"That makes sense for one photo, not for {len(photos)}.",
            "Name a single photo.",
        )
    several = len(photos) + len(failures) > 1
    done_count = 0
    for photo in with_progress(photos, len(photos)):
        try:
            done = step(photo.main, photo.others)
        except EyefindError as known:
            failures.append((photo.main, known))
        except Exception as unexpected:
            failures.append((photo.main, as_ours(unexpected)))
        else:
            tell_done(done, as_json, brief=several)
            done_count += 1
    if as_json:
        for path, error in failures:
            tell_failure(path, error)
    if failures:
        raise typer.Exit(_list_failures(failures, done_count, several))


def photo_sets(
    paths: list[Path], job: "Job", one_set: bool = False
) -> "tuple[list[PhotoSet], Failures]":
    """Open folders one by one, so that a bad one does not hide the others.

    Parameters
    ----------
    paths : list of Path
        Photos and folders. In a folder lamp sets are recognised.
    job : Job
        Its rules and its folder of records.
    one_set : bool
        Whether the photos named are one lamp set, the main one first.

    Returns
    -------
    sets : list of PhotoSet
        Each photo once.
    failures : list of (Path, EyefindError)
        Folders that cannot be opened.

    Raises
    ------
    UsageError
        If one set is a folder or has a single photo.
    """
    from eyefind.photo import PhotoSet, find_photos, find_sets
    from eyefind.record import record_path

    if one_set:
        if len(paths) < 2 or any(path.is_dir() for path in paths):
            raise UsageError(
                "A lamp set is two photos or more.",
                "Name them one by one after --set, the main one first.",
            )
        return [PhotoSet(paths[0], paths[1:])], []
    sets: dict[Path, PhotoSet] = {}
    failures: Failures = []
    for path in paths:
        try:
            photos = find_photos([path])
        except EyefindError as error:
            failures.append((path, error))
            continue
        found = [PhotoSet(photo) for photo in photos]
        if path.is_dir():
            found = find_sets(
                photos, job.rules, lambda photo: record_path(photo, job.out).exists()
            )
        sets.update((one.main, one) for one in found if one.main not in sets)
    return list(sets.values()), failures


def with_progress(photos: Iterable[T], total: int) -> Iterator[T]:
    """Go through the photos; with several, show the time left on stderr.

    Parameters
    ----------
    photos : iterable
        The photos, or what came of each.
    total : int
        How many there are.

    Yields
    ------
    object
        Each of them.
    """
    if total < 2 or not sys.stderr.isatty():
        yield from photos
        return
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("time left"),
        TimeRemainingColumn(),
    )
    # Results on a screen are printed above the bar; those in a pipe are left alone.
    on_screen = sys.stdout.isatty()
    with Progress(
        *columns, console=Console(stderr=True), redirect_stdout=on_screen
    ) as progress:
        task = progress.add_task("Photos", total=total)
        for photo in photos:
            yield photo
            progress.advance(task)


def _list_failures(failures: Failures, done: int, several: bool) -> ExitCode:
    if not several:
        tell_error(failures[0][1])
        return failures[0][1].exit_code
    typer.echo(f"Done: {done}. Failed: {len(failures)}, as follows.", err=True)
    for path, error in failures:
        typer.echo(f"{path}:", err=True)
        tell_error(error)
    return ExitCode.SOME_FAILED
