"""A grower who is right 95 % of the time, with hands on the keyboard alone."""

import random
import time
from collections.abc import Callable, Container
from dataclasses import dataclass, field

from eyefind_napari.afterwards import Afterwards
from eyefind_napari.panel import ReviewPanel
from qtpy.QtCore import QEvent, QObject, Qt
from qtpy.QtTest import QTest
from qtpy.QtWidgets import QApplication

RIGHT = 0.95
KEYS = {"confirmed": Qt.Key.Key_J, "rejected": Qt.Key.Key_K}


@dataclass(frozen=True)
class Took:
    """Seconds from a key until page and magnifier are painted with what it shows.

    `own_s` is how long the window's own thread worked for it: on a machine that is
    busy with other things `all_s` is longer.
    """

    all_s: float
    own_s: float


@dataclass
class Tally:
    """What was counted on one clump."""

    keys: int = 0
    took: list[Took] = field(default_factory=list)
    pressed: dict[str, str] = field(default_factory=dict)
    true: dict[str, str] = field(default_factory=dict)

    @property
    def slips(self) -> int:
        """How many answers were wrong on purpose."""
        return sum(says != self.true[flag] for flag, says in self.pressed.items())


class Eyes(QObject):
    """Notes when a flag is on the screen: the place of it and the magnifier painted."""

    def __init__(self, panel: ReviewPanel) -> None:
        super().__init__()
        page, rest = panel.answer_page, panel.control._rest
        self.watched = [page.place, *panel.magnifier.panes]
        for thing in (*self.watched, rest):
            thing.installEventFilter(self)
        self.look_away()

    def look_away(self) -> None:
        """Start to watch anew."""
        self.painted: set[QObject] = set()
        self.seen_at: tuple[float, float] | None = None

    def eventFilter(self, source: QObject, event: QEvent) -> bool:  # noqa: N802
        """See what is painted, and what comes when all is painted."""
        if event.type() == QEvent.Type.Paint:
            self.painted.add(source)
        elif event.type() == QEvent.Type.User and self.seen_at is None:
            assert self.painted >= set(self.watched), "the rest came before the flag"
            self.seen_at = (time.perf_counter(), time.thread_time())
        return False


class Grower:
    """Hands on the keyboard of the open window, eyes on its screen.

    Parameters
    ----------
    panel : ReviewPanel
        The panel of the window.
    seed : int
        Decides which answers are wrong.
    """

    def __init__(self, panel: ReviewPanel, seed: int) -> None:
        self.panel, self.control = panel, panel.control
        self.canvas = panel.viewer.window._qt_viewer.canvas.native
        self.random = random.Random(seed)
        window = panel.window()
        window.activateWindow()
        self.wait_for(window.isActiveWindow)
        self.canvas.setFocus()
        self.eyes = Eyes(panel)

    def press(self, key: Qt.Key) -> Took:
        """Press a key and wait until what it shows is on the screen."""
        self.eyes.look_away()
        start, own = time.perf_counter(), time.thread_time()
        QTest.keyClick(self.canvas, key)
        self.wait_for(lambda: self.eyes.seen_at is not None)
        seen, seen_own = self.eyes.seen_at
        return Took(seen - start, seen_own - own)

    def read(self) -> None:
        """Wait until what the shown flag does to the plan is on the screen.

        Nobody answers what is not yet painted.
        """
        self.wait_for(lambda: self.control.effect != "")
        for _ in range(2):  # Text that wraps may be laid out once more.
            painted = Afterwards(lambda: None)
            painted.ask()
            self.wait_for(lambda painted=painted: not painted.due)

    def wait_for(self, done: Callable[[], bool], patience_s: float = 120) -> None:
        """Let the window work until it is done."""
        end = time.monotonic() + patience_s
        while not done():
            assert time.monotonic() < end, "waited in vain"
            QApplication.processEvents()
            time.sleep(0.001)

    def review(self, true_flags: Container[str]) -> Tally:
        """Answer every flag of the clump that is shown and save its sheet.

        Parameters
        ----------
        true_flags : container of str
            Ids of the flags that point at what is truly there.
        """
        session = self.control.session
        tally = Tally()
        while session.open_flags:
            self.read()
            flag = session.current
            right = flag.id in true_flags
            tally.true[flag.id] = "confirmed" if right else "rejected"
            says_yes = right if self.random.random() < RIGHT else not right
            says = tally.pressed[flag.id] = "confirmed" if says_yes else "rejected"
            tally.took.append(self.press(KEYS[says]))
            tally.keys += 1
            assert session.words[flag.id] == says, "the key did something else"
        self.wait_for(lambda: self.control.plan is not None)
        QTest.keyClick(self.canvas, Qt.Key.Key_F9)
        tally.keys += 1
        return tally

    def next_clump(self) -> Took:
        """Go to the next clump, which was read ahead."""
        ahead, index = self.control._ahead, self.control.index + 1
        self.wait_for(lambda: ahead.ready(index) is not None)
        took = self.press(Qt.Key.Key_F8)
        assert self.control.index == index
        assert self.control.session is not None
        return took
