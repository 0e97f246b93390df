"""A real window with painted clumps in it; slow work is done at once, in place."""

from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from painted import painted_clump
from PIL import Image
from qtpy.QtCore import QPoint, Qt

from eyefind.data import PhotoFacts, Record
from eyefind.photo import read_photo
from eyefind.record import read_record, write_record
from eyefind.review import flags_in_force, standing

KEYS = {
    "+": Qt.Key.Key_Plus,
    "-": Qt.Key.Key_Minus,
    "*": Qt.Key.Key_Asterisk,
    "/": Qt.Key.Key_Slash,
    ".": Qt.Key.Key_Period,
    "Enter": Qt.Key.Key_Enter,
}


class AtOnce:
    """Stands in for the worker's process: does the work when it is asked."""

    def __init__(self, name):
        self.closed = False

    def submit(self, work, *args):
        future = Future()
        future.set_running_or_notify_cancel()
        try:
            future.set_result(work(*args))
        except Exception as error:
            future.set_exception(error)
        return future

    def stop(self):
        pass

    def close(self):
        self.closed = True


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

    def click(self, name):
        """Click on one of our buttons with the mouse."""
        button = self.widget(name)
        for number in range(self.panel.pages.count()):
            if self.panel.pages.widget(number).isAncestorOf(button):
                self.panel.show_page(number)
                self.panel.pages.widget(number).ensureWidgetVisible(button)
        self.qtbot.waitUntil(button.isVisible)
        self.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)

    def widget(self, name):
        from qtpy.QtWidgets import QWidget

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

    def point(self, row, col):
        """Move the mouse to a place of the photo."""
        self.qtbot.mouseMove(self.canvas, self.on_canvas(row + 5, col))
        self.qtbot.mouseMove(self.canvas, self.on_canvas(row, col))

    @property
    def on_disk(self):
        """The words as they are on disk now."""
        record = read_record(self.session.review.path)
        return standing(record.flags, record.decisions)

    def flag(self, name):
        record = read_record(self.session.review.path)
        flags = flags_in_force(record.flags, record.decisions)
        return next(flag for flag in flags if flag.id == name)


@pytest.fixture
def settings_file(tmp_path):
    return tmp_path / "settings" / "review.json"


@pytest.fixture
def garden(tmp_path):
    folder = tmp_path / "garden"
    folder.mkdir()
    return painted_garden(folder)


@pytest.fixture
def bench(make_napari_viewer, qtbot, garden, settings_file, monkeypatch):
    """Three painted clumps, the first one open."""
    from eyefind_napari.start import open_review

    monkeypatch.setattr("eyefind.desk.ahead.Worker", AtOnce)
    monkeypatch.setattr("eyefind_napari.control.Worker", AtOnce)
    viewer = make_napari_viewer(show=True)
    viewer.window.resize(1800, 1100)
    panel = open_review(viewer, [garden], None, settings_file)
    bench = Bench(viewer, panel, qtbot, garden)
    qtbot.waitUntil(lambda: bench.session is not None, timeout=10_000)
    viewer.window._qt_window.activateWindow()
    qtbot.waitUntil(viewer.window._qt_window.isActiveWindow, timeout=5_000)
    bench.canvas.setFocus()
    qtbot.wait(50)
    np.testing.assert_equal(len(bench.control.entries), 3)
    yield bench
    panel.stop()
    bench.__dict__.clear()  # napari looks for viewers that are kept alive
