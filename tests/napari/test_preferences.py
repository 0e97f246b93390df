"""Our settings in napari's own Preferences: two places, one truth."""

import os

import pytest
from eyefind_napari.panel import ReviewPanel
from eyefind_napari.preferences import OFFERED, Preferences
from napari import settings as napari_settings
from napari._qt.dialogs.preferences_dialog import PreferencesDialog
from napari.settings import get_plugin_settings
from qtpy.QtWidgets import QSpinBox

from eyefind.desk.magnify import VIEWS
from eyefind.desk.settings import (
    LEAST_PERCENT,
    LEAST_TIMES,
    MOST_PERCENT,
    MOST_TIMES,
    Settings,
    read_settings,
    write_settings,
)

pytestmark = pytest.mark.gui


@pytest.fixture
def offered(bench, tmp_path, monkeypatch):
    """What stands in Preferences, kept away from the user's own files."""
    monkeypatch.setattr(napari_settings, "_CFG_PATH", str(tmp_path / "napari.yaml"))
    napari_settings._clear_plugin_settings_cache()
    yield get_plugin_settings("eyefind").review
    napari_settings._clear_plugin_settings_cache()


@pytest.fixture
def open_preferences(bench, offered):
    opened = []

    def open_them():
        opened.append(Preferences(bench.control))
        return opened[-1]

    yield open_them
    for preferences in opened:
        preferences.close()


def written_at(path, seconds):
    """Set when a file was written, so that no clock decides the test."""
    os.utime(path, (seconds, seconds))


def test_what_is_offered_is_what_the_settings_hold(offered):
    schema = offered.model_json_schema()["properties"]
    assert set(schema) == set(OFFERED)
    assert all(getattr(offered, name) == getattr(Settings(), name) for name in OFFERED)
    for name, low, high in (
        ("text_percent", LEAST_PERCENT, MOST_PERCENT),
        ("times", LEAST_TIMES, MOST_TIMES),
        ("accept_from", 1, 100),
    ):
        assert (schema[name]["minimum"], schema[name]["maximum"]) == (low, high)
    assert schema["scheme"]["enum"] == ["dark", "light"]
    assert schema["view"]["enum"] == [*VIEWS]


def test_a_change_in_preferences_is_seen_and_kept_in_our_file(
    bench, offered, open_preferences
):
    open_preferences()
    offered.update({"scheme": "light", "times": 12})
    kept, complaint = read_settings(bench.control.settings_file)
    assert not complaint
    assert (kept.scheme, kept.times) == ("light", 12)
    assert bench.widget("scheme_light").isChecked()


def test_a_change_on_our_page_stands_in_preferences(bench, offered, open_preferences):
    open_preferences()
    bench.click("view_relief")
    bench.click("text_larger")
    assert (offered.view, offered.text_percent) == ("relief", 125)
    assert bench.control.settings.keys == {}


def test_the_dialog_follows_and_its_cancel_is_ours_too(
    bench, offered, open_preferences
):
    open_preferences()
    bench.control.set_settings(times=6)
    dialog = PreferencesDialog()
    bench.qtbot.addWidget(dialog)
    fields = [box for box in dialog.findChildren(QSpinBox) if box.maximum() == 16]
    [times] = [box for box in fields if box.minimum() == 4]
    assert times.value() == 6
    times.setValue(14)
    assert bench.control.settings.times == 14
    bench.control.set_settings(times=10)
    assert times.value() == 10
    dialog.reject()
    assert bench.control.settings.times == offered.times == 6


def test_what_was_chosen_while_no_review_was_open_is_taken_over(
    bench, offered, open_preferences, tmp_path
):
    file = bench.control.settings_file
    bench.control.set_settings(text_percent=200, keys={"confirm": ["F12"]})
    offered.scheme = "light"
    written_at(file, 100)
    written_at(tmp_path / "eyefind.yaml", 200)
    open_preferences()
    expected = Settings("light", text_percent=200, keys={"confirm": ["F12"]})
    assert read_settings(file) == (expected, "")
    assert offered.text_percent == 200


def test_our_file_counts_when_it_was_written_last(
    bench, offered, open_preferences, tmp_path
):
    offered.update({"scheme": "light", "times": 4})
    bench.control.set_settings(times=16)
    written_at(tmp_path / "eyefind.yaml", 100)
    written_at(bench.control.settings_file, 200)
    open_preferences()
    assert (offered.scheme, offered.times) == ("dark", 16)
    assert bench.control.settings == Settings(times=16)


def test_the_panel_ties_them_until_it_stops(bench, offered, tmp_path, monkeypatch):
    file = tmp_path / "own" / "review.json"
    write_settings(Settings(times=5), file)
    monkeypatch.setattr("eyefind_napari.control.settings_path", lambda: file)
    panel = ReviewPanel(bench.viewer)
    bench.qtbot.addWidget(panel)
    assert offered.times == 5
    panel.stop()
    offered.times = 7
    assert panel.control.settings.times == 5
    panel.close()


def test_a_panel_opens_when_eyefind_is_off_among_the_plugins(
    bench, offered, tmp_path, monkeypatch
):
    monkeypatch.setattr("eyefind_napari.preferences.get_plugin_settings", lambda *_: {})
    monkeypatch.setattr(
        "eyefind_napari.control.settings_path", lambda: tmp_path / "review.json"
    )
    panel = ReviewPanel(bench.viewer)
    bench.qtbot.addWidget(panel)
    assert panel.preferences is None
    panel.stop()
