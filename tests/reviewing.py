"""A grower who is right 95 % of the time goes through all samples by key alone.

``python tests/reviewing.py [VISITS]`` opens the window (on a machine without a screen:
``xvfb-run -s "-screen 0 1920x1200x24" ...``), answers every flag of all samples by key,
saves the sheets, compares the records with the truth, then leafs through VISITS clumps
(100 unless said otherwise) and prints keys, times and memory.
"""

import ctypes
import gc
import json
import os
import resource
import shutil
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import napari
import numpy as np
from eyefind_napari.start import open_review
from grower import Grower, Tally, Took
from PIL import Image
from qtpy.QtWidgets import QApplication
from shapely import Point, Polygon

from eyefind.data import Flag
from eyefind.desk.session import Session
from eyefind.record import read_record
from eyefind.review import standing

SAMPLES = Path(__file__).parent.parent / "sample_images"
LARGE, LARGE_SIZE = "bed4-tallow-sparrow-2.jpg", (8000, 6000)
"""The sample that is made a photo of 48 MP, and its width and height then, px."""
SEED = 3
EYE_MM, PART_MM = 3.0, 5.0
"""A flag this near to the true thing means it (eyes: as everywhere in eyefind)."""


def is_true(flag: Flag, truth: dict, ratio: float) -> bool:
    """Say whether a flag points at what is truly there.

    `ratio` is how much larger than the photo of the truth the photo of the flag is.
    """
    here, px_per_mm = Point(flag.row_px, flag.col_px), truth["px_per_mm"] * ratio
    if flag.kind == "eye":
        eyes = [
            Point(eye["row_px"] * ratio, eye["col_px"] * ratio) for eye in truth["eyes"]
        ]
        return any(here.distance(eye) <= EYE_MM * px_per_mm for eye in eyes)
    things = [
        tuber
        for tuber in truth["tubers"]
        if tuber["kind"] == flag.kind
        or (flag.kind == "broken_neck" and tuber["broken_neck"])
        or (flag.kind == "soft" and tuber["soft"])
    ]
    things += [patch for patch in truth["patches"] if patch["kind"] == flag.kind]
    shapes = [
        Polygon(np.array(thing["outline_px"]) * ratio).buffer(PART_MM * px_per_mm)
        for thing in things
        if len(thing["outline_px"]) > 2
    ]
    return any(shape.covers(here) for shape in shapes)


def truth_of(photo: Path) -> dict:
    """Read the truth of a sample."""
    return json.loads((SAMPLES / f"{photo.stem}.truth.json").read_text())


def say(line: str) -> None:
    """Print a line at once: the whole run takes many minutes."""
    print(line, flush=True)


def print_load(when: str) -> None:
    """Print how busy the machine is with this and other things."""
    load, cores = os.getloadavg()[0], os.cpu_count()
    say(f"{when:26} load {load:.1f} on {cores} cores")


def resident_mb() -> float:
    """Return the memory of this process, MB."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


class Malloc(ctypes.Structure):
    """What glibc's ``mallinfo2`` tells (malloc.h)."""

    _fields_ = (
        *((name, ctypes.c_size_t) for name in ("arena", "ordblks", "smblks", "hblks")),
        *((name, ctypes.c_size_t) for name in ("hblkhd", "usmblks", "fsmblks")),
        *((name, ctypes.c_size_t) for name in ("uordblks", "fordblks", "keepcost")),
    )


def in_use_mb() -> float:
    """Return the memory that was asked for and not given back yet, MB.

    `resident_mb` is more by what glibc keeps free for later, and by code.
    """
    ask = ctypes.CDLL("libc.so.6").mallinfo2
    ask.restype = Malloc
    told = ask()
    return (told.uordblks + told.hblkhd) / 1e6


def main() -> None:
    """Review all samples, then a large photo, and print what was measured."""
    visits = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    with tempfile.TemporaryDirectory() as name:
        folder, large = Path(name) / "samples", Path(name) / "large"
        folder.mkdir()
        for truth in SAMPLES.glob("*.truth.json"):
            name = truth.name.removesuffix(".truth.json")
            shutil.copy(SAMPLES / f"{name}.jpg", folder)
        viewer = napari.Viewer(show_welcome_screen=False)
        viewer.window.resize(1800, 1100)
        panel = open_review(viewer, [folder], None, folder / "settings.json")
        gc.freeze()  # As `eyefind_napari.start.review` does.
        grower = Grower(panel, SEED)
        go_through(grower, folder)
        print_load("samples answered")
        leaf(grower, visits)
        print_load("clumps leafed through")
        enlarge(SAMPLES / LARGE, large)
        start = time.perf_counter()
        panel.control.open([large])
        grower.wait_for(lambda: panel.control.session is not None)
        say(f"48 MP photo, opened to shown {time.perf_counter() - start:.1f} s")
        go_through(grower, large)
        print_load("large photo answered")
        children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3
        panel.stop()
        viewer.close()
        say(f"memory {resident_mb():.0f} MB, of the largest helper {children:.0f} MB")


def go_through(grower: Grower, folder: Path) -> None:
    """Answer every clump of the queue and print what was counted."""
    control = grower.control
    tallies: dict[str, Tally] = {}
    next_s = []
    grower.wait_for(lambda: control.session is not None)
    for number, entry in enumerate(control.entries):
        name = entry.photo_path.stem
        true = true_flags(control.session, truth_of(entry.photo_path))
        tally = tallies[name] = grower.review(true)
        say(f"{name:32} {len(tally.pressed):3} flags {tally.keys:3} keys")
        if number + 1 < len(control.entries):
            next_s.append(grower.next_clump())
    report(tallies, folder)
    print_times(
        "answer to next flag shown", [s for t in tallies.values() for s in t.took]
    )
    if next_s:
        print_times("next clump shown", next_s)


def true_flags(session: Session, truth: dict) -> set[str]:
    """Return the ids of the flags that point at what is truly there."""
    ratio = session.ready.photo.rgb.shape[1] / truth["width_px"]
    return {flag.id for flag in session.flags if is_true(flag, truth, ratio)}


def enlarge(photo: Path, folder: Path) -> None:
    """Write a photo of 48 MP, under the same name."""
    folder.mkdir()
    with Image.open(photo) as small:
        small.resize(LARGE_SIZE, Image.Resampling.BICUBIC).save(
            folder / photo.name, quality=90
        )


def report(tallies: dict[str, Tally], folder: Path) -> None:
    """Print keys, and how the records on disk agree with the keys and the truth."""
    kept = right = 0
    for name, tally in tallies.items():
        record = read_record(folder / f"{name}.eyefind.json")
        words = standing(record.flags, record.decisions)
        assert list(folder.glob(f"{name}*.pdf"))
        kept += sum(words[flag] == says for flag, says in tally.pressed.items())
        right += sum(words[flag] == says for flag, says in tally.true.items())
    count = sum(len(tally.pressed) for tally in tallies.values())
    slips = sum(tally.slips for tally in tallies.values())
    keys = sum(tally.keys for tally in tallies.values()) + len(tallies) - 1
    say(f"words on disk as pressed   {kept} of {count}")
    say(f"words that are true        {right} of {count}; {slips} wrong on purpose")
    say(f"keys a clump               {keys / len(tallies):.1f}")


def print_times(what: str, times: list[Took]) -> None:
    """Print median, 95th percentile and most, as they passed and of our own work."""
    for kind, seconds in (
        ("as they passed", sorted(took.all_s for took in times)),
        ("of the window's thread", sorted(took.own_s for took in times)),
    ):
        high = seconds[min(len(seconds) - 1, round(0.95 * len(seconds)))]
        ms = [round(1000 * s) for s in (median(seconds), high, seconds[-1])]
        say(f"{what:26} {ms[0]} / {ms[1]} / {ms[2]} ms (median, 95 %, most) {kind}")


def leaf(grower: Grower, visits: int) -> None:
    """Go through so many clumps and print the memory on the way."""
    control = grower.control
    for visit in range(visits):
        control.go_to_clump(visit % len(control.entries))
        grower.wait_for(lambda: control.session is not None)
        QApplication.processEvents()
        if visit % 10 == 9:
            gc.collect()
            say(
                f"memory after {visit + 1:3} clumps     {resident_mb():.0f} MB, in use "
                f"{in_use_mb():.0f} MB, {len(QApplication.allWidgets())} widgets"
            )


if __name__ == "__main__":
    main()
