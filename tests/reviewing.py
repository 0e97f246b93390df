"""A grower who is right 95 % of the time goes through all samples by key alone.

``python tests/reviewing.py [VISITS]`` opens the window (on a machine without a screen:
``xvfb-run -s "-screen 0 1920x1200x24" ...``), answers every flag of all samples by key,
saves the sheets, compares the records with the truth, then leafs through VISITS clumps
(100 unless said otherwise) and prints keys, times and memory.
"""

import json
import random
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

import napari
from eyefind_napari.panel import ReviewPanel
from eyefind_napari.start import open_review
from qtpy.QtCore import Qt
from qtpy.QtTest import QTest
from qtpy.QtWidgets import QApplication
from shapely import Point, Polygon

from eyefind.data import Flag
from eyefind.record import read_record
from eyefind.review import standing

SAMPLES = Path(__file__).parent.parent / "sample_images"
RIGHT = 0.95
EYE_MM, PART_MM = 3.0, 5.0
"""A flag this near to the true thing means it (eyes: as everywhere in eyefind)."""
KEYS = {"confirmed": Qt.Key.Key_J, "rejected": Qt.Key.Key_K}


def is_true(flag: Flag, truth: dict, px_per_mm: float) -> bool:
    """Say whether a flag points at what is truly there."""
    here = Point(flag.row_px, flag.col_px)
    if flag.kind == "eye":
        eyes = [Point(eye["row_px"], eye["col_px"]) for eye in truth["eyes"]]
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
        Polygon(thing["outline_px"]).buffer(PART_MM * px_per_mm)
        for thing in things
        if len(thing["outline_px"]) > 2
    ]
    return any(shape.covers(here) for shape in shapes)


@dataclass
class Tally:
    """What was counted on one clump."""

    file: str
    keys: int = 0
    answer_s: list[float] = field(default_factory=list)
    pressed: dict[str, str] = field(default_factory=dict)
    true: dict[str, str] = field(default_factory=dict)


class Grower:
    """Hands on the keyboard of the open window."""

    def __init__(self, panel: ReviewPanel, seed: int = 1) -> None:
        self.panel, self.control = panel, panel.control
        self.canvas = panel.viewer.window._qt_viewer.canvas.native
        self.random = random.Random(seed)
        window = panel.window()
        window.activateWindow()
        self.wait_for(window.isActiveWindow)
        self.canvas.setFocus()

    def press(self, key: Qt.Key) -> None:
        """Press a key and let the window draw."""
        QTest.keyClick(self.canvas, key)
        QApplication.processEvents()

    def wait_for(self, done: Callable[[], bool], patience_s: float = 120) -> None:
        """Let the window work until it is done."""
        end = time.monotonic() + patience_s
        while not done():
            assert time.monotonic() < end, "waited in vain"
            QApplication.processEvents()
            time.sleep(0.002)

    def review(self, truth: dict) -> Tally:
        """Answer every flag of the clump that is shown and save its sheet."""
        session = self.control.session
        tally = Tally(truth["file"])
        while session.open_flags:
            self.wait_for(lambda: self.control.effect != "")  # The grower reads it.
            flag = session.current
            right = is_true(flag, truth, session.record.scale.px_per_mm)
            says = "confirmed" if right else "rejected"
            tally.true[flag.id] = says
            if self.random.random() > RIGHT:
                says = "rejected" if right else "confirmed"
            tally.pressed[flag.id] = says
            start = time.perf_counter()
            self.press(KEYS[says])
            tally.answer_s.append(time.perf_counter() - start)
            tally.keys += 1
            assert flag.id in session.words, "the key did nothing"
        self.wait_for(lambda: self.control.plan is not None)
        self.press(Qt.Key.Key_F9)
        tally.keys += 1
        return tally

    def next_clump(self) -> float:
        """Go to the next clump, which was read ahead; return the seconds it took."""
        ahead, index = self.control._ahead, self.control.index + 1
        self.wait_for(lambda: ahead.ready(index) is not None)
        start = time.perf_counter()
        self.press(Qt.Key.Key_F8)
        assert self.control.index == index
        assert self.control.session is not None
        return time.perf_counter() - start


def truth_of(photo: Path) -> dict:
    """Read the truth of a sample."""
    return json.loads((SAMPLES / f"{photo.stem}.truth.json").read_text())


def resident_mb() -> float:
    """Return the memory of this process, MB."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 1e6


def main() -> None:
    """Review all samples and print what was measured."""
    visits = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for photo in SAMPLES.glob("*.jpg"):
            shutil.copy(photo, folder)
        viewer = napari.Viewer(show_welcome_screen=False)
        viewer.window.resize(1800, 1100)
        panel = open_review(viewer, [folder], None, folder / "settings.json")
        grower, control = Grower(panel), panel.control
        tallies, next_s = [], []
        grower.wait_for(lambda: control.session is not None)
        for number, entry in enumerate(control.entries):
            tallies.append(grower.review(truth_of(entry.photo_path)))
            if number + 1 < len(control.entries):
                next_s.append(grower.next_clump())
        report(tallies, next_s, folder)
        leaf(grower, visits)
        panel.stop()
        viewer.close()


def report(tallies: list[Tally], next_s: list[float], folder: Path) -> None:
    """Print keys, times, and how the records agree with keys and truth."""
    kept = right = count = 0
    for tally in tallies:
        record = read_record(folder / f"{Path(tally.file).stem}.eyefind.json")
        words = standing(record.flags, record.decisions)
        assert list(folder.glob(f"{Path(tally.file).stem}*.pdf"))
        kept += sum(words[flag] == says for flag, says in tally.pressed.items())
        right += sum(words[flag] == says for flag, says in tally.true.items())
        count += len(tally.pressed)
        print(f"{tally.file:32} {len(tally.pressed):3} flags {tally.keys:3} keys")
    answers = sorted(ms for tally in tallies for ms in tally.answer_s)
    print(f"words on disk as pressed   {kept} of {count}")
    print(f"words that are true        {right} of {count}")
    keys = sum(tally.keys for tally in tallies) + len(next_s)
    print(f"keys a clump               {keys / len(tallies):.1f}")
    print_times("answer to next flag shown", answers)
    print_times("next clump shown", sorted(next_s))


def print_times(what: str, seconds: list[float]) -> None:
    """Print median, 95th percentile and most of sorted durations."""
    high = seconds[min(len(seconds) - 1, round(0.95 * len(seconds)))]
    ms = [1000 * s for s in (median(seconds), high, seconds[-1])]
    print(f"{what:26} {ms[0]:.0f} / {ms[1]:.0f} / {ms[2]:.0f} ms (median, 95 %, most)")


def leaf(grower: Grower, visits: int) -> None:
    """Go through so many clumps and print the memory on the way."""
    control = grower.control
    for visit in range(visits):
        control.go_to_clump(visit % len(control.entries))
        grower.wait_for(lambda: control.session is not None)
        QApplication.processEvents()
        if visit % 10 == 9:
            print(f"memory after {visit + 1:3} clumps     {resident_mb():.0f} MB")


if __name__ == "__main__":
    main()
