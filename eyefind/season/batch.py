"""A folder of photos through all cores: resumable after a kill, memory flat.

Every photo's record is on the disk before the ledger hears of it, and the ledger keeps
a row for each photo that is done. A run that was killed is simply started again: what
has a record is taken from it.
"""

import os
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import connection, get_context, parent_process
from pathlib import Path

from eyefind.errors import EyefindError, PhotoError
from eyefind.job import Job
from eyefind.photo import PhotoSet, find_photos, find_sets, lacks_frames
from eyefind.record import read_record, record_path
from eyefind.rules import Rules
from eyefind.season.binding import photo_columns
from eyefind.season.ledger import Ledger
from eyefind.season.readings import Reading, read_reading
from eyefind.season.tables import ClumpPhoto, Season

IN_HAND = 2
"""Photos a core that wait for it: enough to keep it busy, no more in memory."""
SETTLED_S = 2.0
"""A photo that changed more recently than this may still be on its way to the disk."""
LOOK_EVERY_S = 3.0
"""How often a watched folder is looked at."""


@dataclass(frozen=True)
class Looked:
    """What came of one photo.

    Attributes
    ----------
    path : Path
        The photo.
    reading : Reading or None
        What its record says; None if it could not be used.
    why : str
        Why not.
    """

    path: Path
    reading: Reading | None
    why: str = ""


def waiting_photos(
    ledger: Ledger, season: Season, folder: Path, rules: Rules
) -> list[PhotoSet]:
    """Return the photos of a folder that the ledger has no record of.

    Photos of one view under a moved lamp are one set, and have one record. A set whose
    record lacks a frame that came later waits again.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    folder : Path
        The folder.
    rules : Rules
        The rules of the trade: they say what is one set.

    Returns
    -------
    list of PhotoSet
        By name, most often sets of one; a photo that failed before is among them.

    Raises
    ------
    PhotoError
        If the folder is not there, cannot be opened or holds no photo.
    """
    photos = _photos_of(folder)
    done = _done_photos(ledger, season)
    sets = find_sets(photos, rules, lambda photo: photo in done)
    return [one for one in sets if one.main not in done or _lacks_frames(one)]


def _photos_of(folder: Path) -> list[Path]:
    if not folder.is_dir():
        raise PhotoError(f"There is no folder {folder}.", "Check its name.")
    return find_photos([folder.resolve()])


def _done_photos(ledger: Ledger, season: Season) -> set[Path]:
    return {
        Path(photo.path)
        for photo in ledger.rows(ClumpPhoto, "season_id = ?", season.id)
        if not photo.failed and photo.record_path and Path(photo.record_path).exists()
    }


def _lacks_frames(one: PhotoSet) -> bool:
    """Tell whether frames of a set came after its record was written."""
    if not one.others:
        return False
    try:
        record = read_record(record_path(one.main, None))
    except EyefindError:
        return True
    return lacks_frames(record.frames, one.others)


def look_at_all(
    ledger: Ledger,
    season: Season,
    sets: Sequence[PhotoSet],
    rules: Rules,
    cores: int | None = None,
) -> Iterator[Looked]:
    """Look at photos on all cores and enter each into the ledger when it is done.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    sets : sequence of PhotoSet
        The photos.
    rules : Rules
        The rules of the trade.
    cores : int, optional
        How many to use; all that this program may use when not given.

    Yields
    ------
    Looked
        Each photo in the order in which they are done.

    Raises
    ------
    EyefindError
        If the system ended a worker (for want of memory); what was done stays.
    """
    cores = min(cores or usable_cores(), max(len(sets), 1))
    # Threads of BLAS and OpenCV would only fight over the cores.
    os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")
    pool = ProcessPoolExecutor(
        cores, mp_context=get_context("spawn"), initializer=_start_worker
    )
    queue = iter(sets)
    running: set[Future[Looked]] = set()
    try:
        while True:
            while len(running) < IN_HAND * cores and (one := next(queue, None)):
                running.add(pool.submit(look_at, one, rules))
            if not running:
                return
            done, running = wait(running, return_when=FIRST_COMPLETED)
            for future in done:
                looked = future.result()
                enter(ledger, season, looked)
                yield looked
    except BrokenProcessPool as error:
        raise EyefindError(
            "The system ended a worker, perhaps for want of memory.",
            "What was done is kept. Run the same command again with fewer --cores.",
        ) from error
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def look_at(one: PhotoSet, rules: Rules) -> Looked:
    """Look at one photo, make its plan, and say what came of it; never raises.

    Parameters
    ----------
    one : PhotoSet
        The photo, with the further frames of its lamp set.
    rules : Rules
        The rules of the trade.

    Returns
    -------
    Looked
        With its record's reading, or with why it could not be used.
    """
    path = one.main
    try:
        done = Job(rules).plan(path, one.others)
        return Looked(path, read_reading(done.record_path, rules))
    except EyefindError as error:
        return Looked(path, None, str(error))
    except Exception as error:
        # One bad photo never stops the others.
        return Looked(path, None, f"Something inside eyefind went wrong: {error!r}")


def enter(ledger: Ledger, season: Season, looked: Looked) -> None:
    """Enter what came of a photo into the ledger."""
    values: dict[str, str | int | None] = (
        {"failed": looked.why}
        if looked.reading is None
        else photo_columns(looked.reading)
    )
    query = "season_id = ? AND path = ?"
    with ledger.refreshing() as deed:
        former = ledger.rows(ClumpPhoto, query, season.id, str(looked.path))
        row = (
            former[0]
            if former
            else deed.add(ClumpPhoto(season_id=season.id, path=str(looked.path)))
        )
        deed.change(row, **values)


def new_photos(
    ledger: Ledger, season: Season, folder: Path, rules: Rules
) -> Iterator[list[PhotoSet]]:
    """Watch a folder: yield the photos that came, again and again, without end.

    Parameters
    ----------
    ledger : Ledger
        The ledger.
    season : Season
        The season.
    folder : Path
        The folder.
    rules : Rules
        The rules of the trade: they say what is one set.

    Yields
    ------
    list of PhotoSet
        Photos that are wholly there; empty when none came.
    """
    tried: dict[Path, float] = {}
    while True:
        came = {
            path: changed
            for path, changed in _settled(folder).items()
            # A photo that was tried is tried again only when it changed.
            if tried.get(path) != changed
        }
        tried.update(came)
        sets = waiting_photos(ledger, season, folder, rules) if came else []
        yield [one for one in sets if not came.keys().isdisjoint(one.photos)]
        time.sleep(LOOK_EVERY_S)


def _settled(folder: Path) -> dict[Path, float]:
    """Return the photos that are wholly in a folder, with when they last changed."""
    now, found = time.time(), {}
    with suppress(PhotoError):
        for path in _photos_of(folder):
            with suppress(OSError):  # taken away meanwhile
                found[path] = path.stat().st_mtime
    return {path: at for path, at in found.items() if now - at > SETTLED_S}


def usable_cores() -> int:
    """Return how many cores this program may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _start_worker() -> None:
    import cv2

    cv2.setNumThreads(1)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """End this worker when its parent was killed: it would wait for work for ever."""
    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)
