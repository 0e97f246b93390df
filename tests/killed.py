"""Programs that tests kill: they tell over a pipe what they did, and never end."""

import os
import sys
from collections.abc import Callable
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.forkserver import ensure_running
from pathlib import Path
from random import Random
from time import sleep

import pytest
from standins import Finder, install

from eyefind.data import Style
from eyefind.record import record_path
from eyefind.review import Review
from eyefind.rules import load_rules
from eyefind.season import readings
from eyefind.season.batch import enter, look_at, waiting_photos
from eyefind.season.binding import refresh
from eyefind.season.garden import find_season
from eyefind.season.ledger import Ledger
from eyefind.season.placing import place_new
from eyefind.season.tables import Garden, Season, Way

# A server that has loaded everything starts each program within milliseconds.
_server = get_context("forkserver")
_server.set_forkserver_preload(["killed"])
Finder()  # draws its masks now, once, and not in every program


def killed_at_random(
    program: Callable[..., None],
    args: tuple[object, ...],
    most_s: float,
    chance: Random,
) -> list[object]:
    """Start a program, kill it (SIGKILL) within `most_s`; return what it told."""
    with pytest.MonkeyPatch.context() as patch:
        # The server looks for what it loads before it is told where.
        patch.setenv("PYTHONPATH", os.pathsep.join(sys.path))
        ensure_running()
    ours, theirs = _server.Pipe(duplex=False)
    process = _server.Process(target=program, args=(*args, theirs))
    process.start()
    theirs.close()
    sleep(chance.uniform(0, most_s))
    process.kill()
    process.join()
    assert process.exitcode == -9
    told = []
    try:
        while ours.poll():
            told.append(ours.recv())
    except (EOFError, OSError):
        pass
    return told


def keep_gardens(path: Path, tell: Connection) -> None:
    """Enter garden after garden, each with a season."""
    with Ledger(path) as ledger:
        number = len(ledger.rows(Garden))
        while True:
            with ledger.deed("garden") as deed:
                garden = deed.add(Garden(name=f"g{number}"))
                deed.add(Season(garden_id=garden.id, year=2026))
            number += 1
            tell.send(number)


def take_photos(path: Path, folder: Path, tell: Connection) -> None:
    """Take what comes into a folder, and answer the first flag of each photo."""
    patch = pytest.MonkeyPatch()
    install(patch)
    # Trying out every way to divide takes long, and is no more than derived.
    patch.setattr(readings, "_way", _no_way)
    rules = load_rules()
    with Ledger(path) as ledger:
        season = find_season(ledger)
        while True:
            for one in waiting_photos(ledger, season, folder, rules):
                photo = one.main
                enter(ledger, season, look_at(one, rules))
                tell.send(("taken", photo.name))
                place_new(ledger, season, rules)
                review = Review(record_path(photo, None))
                if not review.record.decisions:
                    review.say(review.undecided[0].id, "confirmed", "Ida")
                tell.send(("answered", photo.name))
                refresh(ledger, season, rules)


def _no_way(_record: object, style: Style, _rules: object) -> Way:
    return Way(clump_id=0, style=style, cuts=0, chances="[]", volumes_ml="[]")
