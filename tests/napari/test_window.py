"""The window's life: from napari's menus, closing with work running, after a crash."""

import os
import time

import pytest
from eyefind_napari.parts import dock_of
from eyefind_napari.start import open_review
from PIL import Image
from qtpy.QtCore import Qt
from qtpy.QtWidgets import QLabel, QWidget

from eyefind.desk.worker import Worker
from eyefind.record import read_record
from eyefind.review import standing

pytestmark = pytest.mark.gui


def answered(path):
    record = read_record(path)
    return standing(record.flags, record.decisions)


def alive(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@pytest.fixture
def viewer(make_napari_viewer):
    return make_napari_viewer(show=True)


def test_from_the_menu_with_a_record_open(viewer, qtbot, garden, monkeypatch, tmp_path):
    monkeypatch.setattr(
        "eyefind_napari.control.settings_path", lambda: tmp_path / "review.json"
    )
    viewer.open(garden / "bed 2.eyefind.json", plugin="eyefind")
    _, panel = viewer.window.add_plugin_dock_widget("eyefind", "Review clumps")
    qtbot.waitUntil(lambda: panel.control.session is not None, timeout=30_000)
    assert panel.control.session.ready.photo.file == "bed 2.png"
    assert panel.magnifier.isVisible()
    panel.control.answer("confirmed")
    assert len(answered(garden / "bed 2.eyefind.json")) == 1
    panel.stop()


def test_from_the_menu_with_the_sample(viewer, qtbot, monkeypatch, tmp_path):
    monkeypatch.setattr(
        "eyefind_napari.control.settings_path", lambda: tmp_path / "review.json"
    )
    monkeypatch.setattr(
        "eyefind_napari.sample.user_data_path", lambda *_, **__: tmp_path
    )
    (image,) = viewer.open_sample("eyefind", "clump")
    assert image.data.shape[2] == 3
    _, panel = viewer.window.add_plugin_dock_widget("eyefind", "Review clumps")
    qtbot.waitUntil(lambda: panel.control.session is not None, timeout=60_000)
    assert panel.control.session.review.path.parent == tmp_path / "sample"
    panel.stop()


def test_closing_while_a_photo_is_read_ends_all_work_and_loses_nothing(
    viewer, qtbot, garden, tmp_path
):
    Image.new("RGB", (3000, 2000), (90, 90, 90)).save(garden / "bed 4.png")
    panel = open_review(viewer, [garden], None, tmp_path / "review.json")
    qtbot.waitUntil(lambda: panel.control.session is not None, timeout=30_000)
    panel.control.answer("confirmed")
    workers = (panel.control._ahead._worker, panel.control._planner)
    qtbot.waitUntil(lambda: workers[1]._process is not None, timeout=30_000)
    pids = [worker._process.pid for worker in workers if worker._process]
    assert pids
    start = time.monotonic()
    viewer.close()
    assert time.monotonic() - start < 5
    qtbot.waitUntil(lambda: not any(map(alive, pids)), timeout=10_000)
    assert len(answered(garden / "bed 1.eyefind.json")) == 1


def test_closing_right_after_an_answer_draws_nothing_more(
    viewer, qtbot, garden, tmp_path
):
    panel = open_review(viewer, [garden], None, tmp_path / "review.json")
    qtbot.waitUntil(lambda: panel.control.session is not None, timeout=30_000)
    panel.control.answer("confirmed")
    assert panel.control.following
    drawn = []
    panel.control.settled.connect(lambda: drawn.append("marks"))
    viewer.close()
    qtbot.wait(50)
    assert drawn == []
    assert len(answered(garden / "bed 1.eyefind.json")) == 1


def test_a_crash_of_the_look_leaves_a_message_in_the_queue(
    viewer, qtbot, garden, tmp_path, monkeypatch
):
    submit = Worker.submit

    def submit_or_die(self, work, *args):
        dies = "bed 2" in str(args[0])
        return submit(self, os._exit, 1) if dies else submit(self, work, *args)

    monkeypatch.setattr(Worker, "submit", submit_or_die)
    panel = open_review(viewer, [garden], None, tmp_path / "review.json")
    entries = panel.control.entries
    qtbot.waitUntil(lambda: entries[1].state == "refused", timeout=30_000)
    qtbot.waitUntil(lambda: panel.control.session is not None, timeout=30_000)
    assert "stopped before it was done" in entries[1].message
    assert entries[2].state == "open"
    panel.stop()


def test_keys_are_given_back_when_the_panel_goes(viewer, qtbot, garden, tmp_path):
    panel = open_review(viewer, [], None, tmp_path / "review.json")
    qtbot.waitUntil(lambda: panel.keys is not None)
    assert panel.keys._shortcuts
    panel.stop()
    assert not panel.keys._shortcuts
    assert panel.marks._pressed not in viewer.mouse_drag_callbacks


def test_napari_is_left_as_it_was_found(viewer, qtbot, tmp_path):
    window = viewer.window._qt_window
    corners = {corner: window.corner(corner) for corner in Qt.Corner}
    before = window.menuBar().fontInfo().pointSizeF(), window.styleSheet()
    panel = open_review(viewer, [], None, tmp_path / "review.json")
    qtbot.waitUntil(lambda: panel.keys is not None)
    panel.control.set_settings(text_percent=200)
    assert window.menuBar().fontInfo().pointSizeF() > 30
    panel.stop()
    viewer.theme = "dark"
    assert (window.menuBar().fontInfo().pointSizeF(), window.styleSheet()) == before
    assert {corner: window.corner(corner) for corner in Qt.Corner} == corners
    assert not any(text.margin() for text in window.statusBar().findChildren(QLabel))


@pytest.mark.parametrize("button", ["hide_button", "close_button"])
@pytest.mark.parametrize("action", ["undock", "fill"])
def test_a_magnifier_that_was_closed_comes_back(
    viewer, qtbot, tmp_path, button, action
):
    panel = open_review(viewer, [], None, tmp_path / "review.json")
    qtbot.waitUntil(panel.magnifier.isVisible)
    getattr(dock_of(panel.magnifier).titleBarWidget(), button).click()
    qtbot.waitUntil(lambda: not panel.magnifier.isVisible())
    panel.work()[action]()
    qtbot.waitUntil(panel.magnifier.isVisible)
    qtbot.wait(200)
    panel.stop()


def test_a_panel_that_was_closed_answers_nothing_and_can_be_opened_again(
    viewer, qtbot, garden, monkeypatch, tmp_path
):
    monkeypatch.setattr(
        "eyefind_napari.control.settings_path", lambda: tmp_path / "review.json"
    )
    viewer.open(garden / "bed 2.eyefind.json", plugin="eyefind")
    dock, panel = viewer.window.add_plugin_dock_widget("eyefind", "Review clumps")
    qtbot.waitUntil(lambda: panel.control.session is not None, timeout=30_000)
    dock.titleBarWidget().close_button.click()
    assert not panel.keys._shortcuts
    qtbot.waitUntil(lambda: dock_of(panel.magnifier) is None)
    _, again = viewer.window.add_plugin_dock_widget("eyefind", "Review clumps")
    assert again is not panel
    qtbot.waitUntil(lambda: again.control.session is not None, timeout=30_000)
    window = viewer.window._qt_window
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    canvas = viewer.window._qt_viewer.canvas.native
    canvas.setFocus()
    qtbot.keyClick(canvas, Qt.Key.Key_J)
    assert len(answered(garden / "bed 2.eyefind.json")) == 1
    again.stop()


def test_a_settings_file_that_is_damaged_is_told(viewer, tmp_path):
    (tmp_path / "review.json").write_text('{"text_percent": 900}')
    panel = open_review(viewer, [], None, tmp_path / "review.json")
    message = panel.findChild(QWidget, "message").text()
    assert "text_percent is 900" in message
    panel.stop()


def test_without_a_clump_there_is_nothing_to_answer(viewer, tmp_path):
    panel = open_review(viewer, [], None, tmp_path / "review.json")
    assert not panel.findChild(QWidget, "confirm").isEnabled()
    assert "page Clumps" in panel.findChild(QWidget, "message").text()
    panel.stop()
