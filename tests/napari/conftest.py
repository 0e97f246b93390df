"""A real window with painted clumps in it; slow work is done at once, in place."""

import gc
import shutil
from dataclasses import replace
from pathlib import Path

import napari
import pytest
from eyefind_napari.marks import FLAGS, MARKS, PHOTO, PLAN
from eyefind_napari.start import open_review
from napari._qt.threads.status_checker import StatusChecker
from painted import painted_clump
from PIL import Image
from qtpy.QtCore import QEvent, QPoint, QPointF, Qt
from qtpy.QtGui import QMouseEvent
from qtpy.QtWidgets import QApplication, QScrollArea, QWidget
from standins import AtOnce

from eyefind.data import PhotoFacts, Record
from eyefind.desk.foresight import deciding_flags
from eyefind.desk.settings import Settings
from eyefind.photo import read_photo
from eyefind.record import read_record, write_record
from eyefind.review import flags_in_force, standing
from eyefind.rules import load_rules

OURS = (PHOTO, PLAN, MARKS, FLAGS)
KEYS = {
    "+": Qt.Key.Key_Plus,
    "-": Qt.Key.Key_Minus,
    "*": Qt.Key.Key_Asterisk,
    "/": Qt.Key.Key_Slash,
    ".": Qt.Key.Key_Period,
    "Enter": Qt.Key.Key_Enter,
    "PgUp": Qt.Key.Key_PageUp,
    "PgDown": Qt.Key.Key_PageDown,
}


def painted_garden(folder: Path, names=("bed 1", "bed 2", "bed 3")) -> Path:
    """Write photos of the painted clump and their records, unanswered."""
    painted = painted_clump()
    chances = [0.95, 0.85, 0.6, 0.4, 0.9, 0.9]
    flags = [
        replace(flag, likelihood=chance)
        for flag, chance in zip(painted.flags, chances, strict=True)
    ]
    for number, name in enumerate(names):
        path = folder / f"{name}.png"
        rgb = painted.rgb.copy()
        rgb[0, number] = 255
        Image.fromarray(rgb).save(path)
        photo = read_photo(path)
        facts = PhotoFacts(photo.file, photo.sha256, *photo.rgb.shape[:2])
        record = Record(facts, painted.scale, [], painted.anatomy, flags)
        write_record(record, folder / f"{name}.eyefind.json")
    return folder


class Bench:
    """The open window and the hands on it."""

    def __init__(self, viewer, panel, qtbot, folder):
        self.viewer, self.panel, self.qtbot = viewer, panel, qtbot
        self.folder = folder
        self.control = panel.control
        self.said = []
        self.control.said.connect(self.said.append)

    @property
    def session(self):
        return self.control.session

    @property
    def canvas(self):
        return self.viewer.window._qt_viewer.canvas.native

    def key(self, text, target=None):
        """Press a key written as Qt writes it."""
        modifier = Qt.KeyboardModifier.NoModifier
        *modifiers, last = text.split("+") if text != "Num++" else ["Num", "+"]
        for name, one in (
            ("Shift", Qt.KeyboardModifier.ShiftModifier),
            ("Ctrl", Qt.KeyboardModifier.ControlModifier),
            ("Num", Qt.KeyboardModifier.KeypadModifier),
        ):
            if name in modifiers:
                modifier |= one
        code = KEYS.get(last) or getattr(Qt.Key, f"Key_{last}")
        self.qtbot.keyClick(target or self.canvas, code, modifier)
        self.settle()

    def click(self, name):
        """Click on one of our buttons with the mouse."""
        button = self.widget(name)
        for number in range(self.panel.pages.count()):
            if self.panel.pages.widget(number).isAncestorOf(button):
                self.panel.show_page(number)
                self.area(number).ensureWidgetVisible(button)
        self.qtbot.waitUntil(button.isVisible)
        self.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        self.settle()

    def area(self, number):
        """What scrolls of a page."""
        page = self.panel.pages.widget(number)
        return page if isinstance(page, QScrollArea) else page.findChild(QScrollArea)

    def space(self, name):
        """Go to one of our buttons with the keyboard and press it there."""
        button = self.widget(name)
        for number in range(self.panel.pages.count()):
            if self.panel.pages.widget(number).isAncestorOf(button):
                self.panel.show_page(number)
        self.qtbot.waitUntil(button.isVisible)
        button.setFocus(Qt.FocusReason.TabFocusReason)
        self.qtbot.waitUntil(button.hasFocus)
        self.qtbot.keyClick(button, Qt.Key.Key_Space)
        self.settle()

    def take_photo_place(self, row, col):
        """Point at a place of the photo and press the key that takes it."""
        self.point(row, col)
        self.key("W")

    def settle(self):
        """Let marks, plan and queue follow the flag that is shown."""
        self.qtbot.waitUntil(lambda: not self.control.following)

    def widget(self, name):
        for root in (self.panel, self.panel.magnifier):
            found = root.findChild(QWidget, name)
            if found is not None:
                return found
        raise LookupError(name)

    def on_canvas(self, row, col):
        """Where a place of the photo lies on the canvas."""
        zoom, centre = self.viewer.camera.zoom, self.viewer.camera.center
        size = self.canvas.size()
        x = (col - centre[-1]) * zoom + size.width() / 2
        y = (row - centre[-2]) * zoom + size.height() / 2
        return QPoint(round(x), round(y))

    def click_photo(self, row, col):
        """Click on the photo with the mouse."""
        at = self.on_canvas(row, col)
        self.qtbot.mouseMove(self.canvas, at)
        self.qtbot.mouseClick(self.canvas, Qt.MouseButton.LeftButton, pos=at)
        self.settle()

    def point(self, row, col):
        """Move the mouse to a place of the photo."""
        at = self.on_canvas(row, col)
        # Sent as Qt sends it: the screen's own cursor may be anywhere.
        move = QMouseEvent(
            QEvent.Type.MouseMove,
            QPointF(at),
            QPointF(self.canvas.mapToGlobal(at)),
            Qt.MouseButton.NoButton,
            Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier,
        )
        # vispy leaves out what comes too soon after the last one.
        self.qtbot.wait(30)
        QApplication.sendEvent(self.canvas, move)

    @property
    def on_disk(self):
        """The words as they are on disk now."""
        record = read_record(self.session.review.path)
        return standing(record.flags, record.decisions)

    def flag(self, name):
        record = read_record(self.session.review.path)
        flags = flags_in_force(record.flags, record.decisions)
        return next(flag for flag in flags if flag.id == name)


def pytest_collection_modifyitems(items):
    """Put tests that make a viewer of their own last: it makes napari forget us."""
    items.sort(key=lambda item: "make_napari_viewer" in item.fixturenames)


@pytest.fixture(scope="session")
def deciding():
    """The flags that decide the plan of the painted clump: always the same ones."""
    painted = painted_clump()
    facts = PhotoFacts("any.png", "", *painted.rgb.shape[:2])
    record = Record(facts, painted.scale, [], painted.anatomy, painted.flags)
    return deciding_flags(record, "singles", load_rules())


@pytest.fixture(scope="module")
def window(tmp_path_factory, deciding):
    """One window for all tests of a module: to open one takes seconds."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("eyefind.desk.ahead.Worker", AtOnce)
        patch.setattr("eyefind_napari.control.Worker", AtOnce)
        patch.setattr("eyefind.desk.prepare.deciding_flags", lambda *_: deciding)
        patch.setattr(StatusChecker, "start", lambda _: None)
        viewer = napari.Viewer(show=True, show_welcome_screen=False)
        viewer.window._qt_window._save_current_window_settings = lambda: None
        viewer.window.resize(1800, 1100)
        panel = open_review(viewer, [], None, tmp_path_factory.mktemp("s") / "s.json")
        yield viewer, panel
        viewer.close()
    del viewer, panel
    gc.collect()


@pytest.fixture(params=["mouse", "key"])
def hand(request, bench):
    """Presses a button of ours, with the mouse or by the keyboard."""
    return bench.click if request.param == "mouse" else bench.space


@pytest.fixture
def take(hand, bench):
    """Takes a place of the photo, by the same hand."""
    return bench.click_photo if hand == bench.click else bench.take_photo_place


@pytest.fixture(scope="session")
def first_garden(tmp_path_factory):
    return painted_garden(tmp_path_factory.mktemp("first"))


@pytest.fixture
def garden(tmp_path, first_garden):
    return shutil.copytree(first_garden, tmp_path / "garden")


@pytest.fixture
def bench(window, qtbot, garden, tmp_path):
    """Three painted clumps, the first one open, and everything else as at first."""
    viewer, panel = window
    bench = Bench(viewer, panel, qtbot, garden)
    bench.control.settings_file = tmp_path / "settings" / "review.json"
    if bench.control.settings != Settings():
        bench.control.set_settings(**vars(Settings()))
    bench.control.open([garden])
    qtbot.waitUntil(lambda: bench.session is not None, timeout=10_000)
    viewer.window._qt_window.activateWindow()
    qtbot.waitUntil(viewer.window._qt_window.isActiveWindow, timeout=5_000)
    bench.canvas.setFocus()
    bench.settle()
    qtbot.wait(10)
    yield bench
    bench.control.said.disconnect(bench.said.append)
    panel.clicks.give_up()
    panel.clicks.pointer = None
    panel.show_page(0)
    if panel.hold.on:
        panel.hold.toggle()
    for layer in [*viewer.layers]:
        if layer.name not in OURS:
            viewer.layers.remove(layer)
