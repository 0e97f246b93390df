"""The queue of clumps in a real window."""

import shutil

import pytest
from hands import act, ways
from painted import painted_clump
from PIL import Image
from qtpy.QtCore import Qt

from eyefind.desk import ahead
from eyefind.errors import PhotoError

pytestmark = pytest.mark.gui


def lines(bench):
    rows = bench.widget("clumps")
    return [rows.item(n).text() for n in range(rows.count())]


def shown(bench):
    return bench.session.ready.photo.file


def arrive(bench, name):
    bench.qtbot.waitUntil(lambda: bench.session is not None and shown(bench) == name)


def test_the_queue_tells_what_is_done_and_open(bench):
    assert lines(bench) == [f"bed {n}: open, 6 to answer" for n in (1, 2, 3)]
    bench.key("J")
    assert lines(bench)[0] == "bed 1: open, 5 to answer"
    while bench.session.open_flags:
        bench.key("J")
    assert lines(bench)[0] == "bed 1: done"
    assert bench.widget("progress").text() == "3 clumps: 1 done, 3 read."


@pytest.mark.parametrize("way", ways("next_clump", "F8", "Ctrl+J", "Num+Enter"))
def test_next_clump(bench, way):
    act(bench, way)
    arrive(bench, "bed 2.png")
    assert bench.viewer.layers["photo"].data is bench.session.ready.photo.rgb


@pytest.mark.parametrize("way", ways("queue_previous", "F7", "Ctrl+H"))
def test_clump_before(bench, way):
    bench.key("F8")
    arrive(bench, "bed 2.png")
    act(bench, way)
    arrive(bench, "bed 1.png")


def test_next_passes_over_what_is_done_and_stops_at_the_end(bench):
    bench.key("F8")
    arrive(bench, "bed 2.png")
    while bench.session.open_flags:
        bench.key("K")
    bench.key("F7")
    arrive(bench, "bed 1.png")
    bench.click("queue_next")
    arrive(bench, "bed 3.png")
    bench.key("F8")
    assert shown(bench) == "bed 3.png"
    assert bench.said[-1] == "There is no further clump."


def test_a_clump_is_chosen_in_the_list_by_mouse_and_by_key(bench):
    bench.panel.show_page(3)
    rows = bench.widget("clumps")
    at = rows.visualItemRect(rows.item(2)).center()
    bench.qtbot.mouseClick(rows.viewport(), Qt.MouseButton.LeftButton, pos=at)
    arrive(bench, "bed 3.png")
    rows.setCurrentRow(1)
    rows.setFocus()
    bench.key("Return", rows)
    arrive(bench, "bed 2.png")


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (PhotoError("bed 2 is blurred.", "Hold still."), "bed 2 is blurred. Hold"),
        (ZeroDivisionError("oops"), "Something inside eyefind went wrong: ZeroDiv"),
    ],
)
def test_a_clump_that_fails_leaves_a_message_and_the_others_go_on(
    bench, monkeypatch, error, message
):
    prepare = ahead.prepare

    def failing(path, job, frames):
        if path.stem == "bed 2":
            raise error
        return prepare(path, job, frames)

    monkeypatch.setattr(ahead, "prepare", failing)
    bench.control.open([bench.folder])
    arrive(bench, "bed 1.png")
    assert lines(bench)[1] == "bed 2: refused"
    bench.key("F8")
    assert bench.session is None
    assert bench.said[-1].startswith(message)
    assert bench.widget("clump_message").text().startswith(message)
    bench.key("J")
    assert bench.said[-1] == "No clump is shown yet."
    bench.key("F8")
    arrive(bench, "bed 3.png")


def test_a_file_that_is_no_photo_is_refused(bench):
    (bench.folder / "bed 0.jpg").write_bytes(b"no photo")
    bench.control.open([bench.folder])
    bench.qtbot.waitUntil(lambda: lines(bench)[0] == "bed 0: refused")


def test_reading_ahead_is_stopped_and_goes_on(bench):
    rgb = painted_clump().rgb
    Image.fromarray(rgb).save(bench.folder / "bed 4.png")
    bench.click("stop_reading")
    assert bench.control._ahead.cancelled
    bench.click("read_on")
    assert not bench.control._ahead.cancelled


@pytest.mark.parametrize(
    ("button", "dialog"),
    [
        ("open_photos", "getOpenFileNames"),
        ("open_folder", "getExistingDirectory"),
    ],
)
def test_photos_and_folders_are_opened_by_dialog(bench, monkeypatch, button, dialog):
    photo = bench.folder / "bed 2.png"
    chosen = ([str(photo)], "") if dialog == "getOpenFileNames" else str(bench.folder)
    monkeypatch.setattr(
        f"eyefind_napari.clumps_page.QFileDialog.{dialog}", lambda *_: chosen
    )
    bench.click(button)
    arrive(bench, "bed 2.png" if "photos" in button else "bed 1.png")


def test_records_stay_beside_their_photos(bench, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    for name in ("bed 3.png", "bed 3.eyefind.json"):
        shutil.copy(bench.folder / name, other)
    bench.control.open([bench.folder / "bed 3.eyefind.json"])
    arrive(bench, "bed 3.png")
    assert bench.session.review.path.parent == bench.folder
    bench.control.open([other / "bed 3.png"])
    arrive(bench, "bed 3.png")
    assert bench.session.review.path.parent == other
