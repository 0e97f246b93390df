"""Speed and memory of the season.

Run ``python tests/season_benchmark.py [PHOTO...]``. A ledger of 20 seasons of 600
clumps is opened and asked; then 12 MP JPEGs (made from the photos) go through the
batch on two cores at most. Beside it stands the time that Pillow needs to decode the
same files on the same cores.
"""

import os
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from resource import RUSAGE_CHILDREN, getrusage
from statistics import median
from time import perf_counter

import numpy as np
from benchmark import CORES, SAMPLES, SIZE_PX
from large_ledger import write_large_ledger
from PIL import Image, ImageOps

from eyefind.photo.set_names import main_of
from eyefind.rules import load_rules
from eyefind.season.batch import look_at_all, waiting_photos
from eyefind.season.counts import count_varieties
from eyefind.season.dividing import suggest
from eyefind.season.garden import find_season, start_season
from eyefind.season.ledger import Ledger
from eyefind.season.placing import place_new
from eyefind.season.progress import take_again, waiting
from eyefind.season.spring import own_accuracy, wake_first
from eyefind.season.winter import losses

QUESTIONS: dict[str, Callable[[Ledger], object]] = {
    "what waits": lambda ledger: waiting(ledger, find_season(ledger)),
    "what to photograph again": lambda ledger: take_again(ledger, find_season(ledger)),
    "enough of each": lambda ledger: count_varieties(
        ledger, find_season(ledger), load_rules()
    ),
    "losses": lambda ledger: losses(ledger, find_season(ledger), "variety"),
    "what to wake": lambda ledger: wake_first(ledger, find_season(ledger)),
    "accuracy": lambda ledger: own_accuracy(ledger, find_season(ledger), "variety"),
}
COPIES = 12
"""Photos of 12 MP that go through the batch."""


def opened_and_answered(path: Path, question: Callable[[Ledger], object]) -> float:
    """Return how long it takes to open a ledger and answer, s."""
    start = perf_counter()
    with Ledger(path) as ledger:
        question(ledger)
    return perf_counter() - start


def one_a_clump(folder: Path) -> list[Path]:
    """Return the photos, the further frames of lamp sets left out."""
    photos = sorted(folder.glob("*.jpg"))
    return [photo for photo in photos if main_of(photo) is None]


def main() -> None:
    """Measure and print."""
    photos = [Path(name) for name in sys.argv[1:]] or one_a_clump(SAMPLES)
    with tempfile.TemporaryDirectory() as folder:
        tell_ledger(Path(folder))
        tell_batch(Path(folder), photos)


def tell_ledger(folder: Path) -> None:
    """Open the large ledger and ask it."""
    path = folder / "large.db"
    write_large_ledger(path)
    print(f"ledger of 20 x 600 clumps      {path.stat().st_size / 1e6:6.1f} MB")
    for name, question in QUESTIONS.items():
        times = [opened_and_answered(path, question) for _ in range(7)]
        print(f"opened, {name:25}{1000 * median(times):6.0f} ms")
    with Ledger(path) as ledger:
        start = perf_counter()
        found = suggest(ledger, find_season(ledger), load_rules())
        proven = "proven" if found.proven else "best found"
        print(f"suggestion for 600 clumps    {perf_counter() - start:6.1f} s, {proven}")


def tell_batch(folder: Path, photos: list[Path]) -> None:
    """Take photos of 12 MP on two cores."""
    for number in range(COPIES):
        picture = ImageOps.exif_transpose(Image.open(photos[number % len(photos)]))
        path = folder / f"IMG_{number:03d}.jpg"
        ImageOps.fit(picture.convert("RGB"), SIZE_PX).save(path, quality=92)
    paths = sorted(folder.glob("*.jpg"))
    with ProcessPoolExecutor(CORES) as pool:
        list(pool.map(decode, paths[:CORES]))  # the workers' start does not count
        start = perf_counter()
        list(pool.map(decode, paths))
        decoding = (perf_counter() - start) / COPIES
    with Ledger(folder / "new.db") as ledger:
        season = start_season(ledger, "Quillfold", 2026)
        rules, done = load_rules(), []
        start = perf_counter()
        waiting = waiting_photos(ledger, season, folder, rules)
        print(
            f"telling lamp sets, a photo   {(perf_counter() - start) / COPIES:6.2f} s"
        )
        for _ in look_at_all(ledger, season, waiting, rules):
            done.append(perf_counter() - start)
        place_new(ledger, season, rules)
        placing = perf_counter() - start - done[-1]
    # The first photo of each core pays for the start of its worker.
    each = (done[-1] - done[CORES - 1]) / (COPIES - CORES)
    peak_mb = getrusage(RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"cores, photos of 12 MP         {CORES}, {COPIES}")
    print(f"decoding alone, a photo      {decoding:6.2f} s     1.0 x")
    print(f"batch, a photo               {each:6.2f} s  {each / decoding:6.1f} x")
    print(f"placing, a photo             {placing / COPIES:6.2f} s")
    whole = 600 * (each + placing / COPIES) / 60
    print(f"600 photos would take        {whole:6.1f} minutes")
    print(f"most memory of a worker        {peak_mb:4.0f} MB")


def decode(path: Path) -> int:
    """Decode a photo and return its number of values."""
    return np.asarray(Image.open(path)).size


if __name__ == "__main__":
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:CORES])
    main()
