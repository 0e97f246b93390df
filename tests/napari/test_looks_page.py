"""Text, colours and keys in a real window, seen by weak eyes."""

import msgspec
import pytest
from eyefind_napari.theme import PALETTES, TARGET_PX, TEXT_PT
from hands import act, ways
from napari.utils.shortcuts import default_shortcuts
from qtpy.QtCore import QRect, Qt
from qtpy.QtGui import QAction
from qtpy.QtWidgets import (
    QAbstractItemView,
    QDockWidget,
    QLabel,
    QLineEdit,
    QPushButton,
    QRadioButton,
    QScrollBar,
    QSpinBox,
    QWidget,
)

from eyefind.desk.keys import ACTIONS
from eyefind.desk.overlay import PX_PER_PT
from eyefind.sheet.style import contrast_ratio

pytestmark = pytest.mark.gui
TARGETS = (QPushButton, QRadioButton, QLineEdit, QSpinBox)


def of_all_pages(bench, kinds):
    """Every widget of these kinds, its page being shown."""
    for number in range(bench.panel.pages.count()):
        bench.panel.show_page(number)
        bench.qtbot.wait(5)
        for root in (bench.panel, bench.panel.magnifier):
            yield from (w for w in root.findChildren(kinds) if w.isVisible())


def settings_on_disk(bench):
    return msgspec.json.decode(bench.control.settings_file.read_bytes())


@pytest.mark.parametrize("percent", [100, 150, 200])
@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_text_is_large_and_never_clipped(bench, percent, scheme):
    bench.control.set_settings(text_percent=percent, scheme=scheme)
    bench.qtbot.wait(100)
    count = 0
    for widget in of_all_pages(bench, (QLabel, *TARGETS)):
        if not widget.objectName() or widget.objectName().startswith("qt_"):
            continue
        count += 1
        name = widget.objectName()
        assert widget.font().pointSizeF() >= TEXT_PT * percent / 100 - 0.1, name
        if isinstance(widget, QLabel):
            needed = widget.heightForWidth(widget.width())
            assert widget.height() >= needed, name
        elif not isinstance(widget, QLineEdit):
            assert widget.width() >= widget.sizeHint().width(), name
            assert widget.height() >= widget.sizeHint().height(), name
    assert count > 60
    for number in range(bench.panel.pages.count()):
        area = bench.area(number)
        assert area.widget().width() <= area.viewport().width()


def around_ours(bench):
    """napari's own widgets around ours that show text."""
    window = bench.panel.window()
    titles = [w.title for w in window.findChildren(QLabel, "QtCustomTitleBar")]
    line = window.statusBar().findChildren(QLabel)
    menus = [action.menu() for action in window.menuBar().actions()]
    assert len(titles) >= 2
    assert line
    assert all(menus)
    return [window.menuBar(), *menus, *line, *titles]


@pytest.mark.parametrize("percent", [100, 200])
def test_what_napari_has_around_ours_is_as_large(bench, percent):
    bench.control.set_settings(text_percent=percent)
    bench.control.set_settings(scheme="light")  # napari sets its own sheet anew.
    for widget in around_ours(bench):
        name = f"{widget} {widget.objectName()}"
        assert widget.fontInfo().pointSizeF() >= TEXT_PT * percent / 100 - 0.5, name
        if isinstance(widget, QLabel) and widget.isVisible():
            assert widget.height() >= widget.fontMetrics().height(), name


@pytest.mark.parametrize("percent", [100, 200])
def test_titles_of_docks_hide_nothing_and_their_buttons_are_large(bench, percent):
    bench.control.set_settings(text_percent=percent)
    bench.qtbot.wait(200)
    for first in (bench.widget("page_answer"), bench.widget("magnifier_title")):
        dock = first.parent()
        while not isinstance(dock, QDockWidget):
            dock = dock.parent()
        bar = dock.titleBarWidget()
        corner = first.mapTo(dock, first.rect().topLeft())
        assert not bar.geometry().intersects(QRect(corner, first.size()))
        for button in bar.findChildren(QPushButton):
            assert min(button.width(), button.height()) >= TARGET_PX
            assert bar.rect().contains(button.geometry())


@pytest.mark.parametrize("percent", [100, 200])
def test_names_on_the_photo_are_as_large(bench, percent):
    bench.control.set_settings(text_percent=percent)
    bench.qtbot.wait(100)
    bench.qtbot.waitUntil(lambda: bench.control.plan_picture is not None)
    frame, zoom = bench.control.frame, bench.viewer.camera.zoom
    # The least size of a letter, in pixels of the overlay, then of the screen.
    seen_px = bench.control.least_pt * PX_PER_PT / frame.zoom * zoom
    inch_px = bench.panel.logicalDpiY()
    assert seen_px / inch_px * 72 == pytest.approx(TEXT_PT * percent / 100, rel=0.05)


def test_targets_are_large(bench):
    seen = 0
    for widget in of_all_pages(bench, TARGETS):
        if widget.objectName() and not widget.objectName().startswith("qt_"):
            seen += 1
            size = min(widget.width(), widget.height())
            assert size >= TARGET_PX, widget.objectName()
    assert seen > 50


def test_scroll_bars_are_wide_enough_to_hit(bench):
    bench.control.set_settings(text_percent=200)
    bars = [b for b in of_all_pages(bench, QScrollBar) if b.maximum() > 0]
    assert bars
    assert all(min(bar.width(), bar.height()) >= TARGET_PX for bar in bars)


def test_every_control_has_a_name_for_screen_readers_and_takes_the_keyboard(bench):
    for widget in of_all_pages(bench, (*TARGETS, QAbstractItemView)):
        if not widget.objectName().startswith("qt_"):
            assert widget.accessibleName(), widget.objectName()
            assert widget.focusPolicy() & Qt.FocusPolicy.TabFocus, widget.objectName()


def test_the_focus_is_seen(bench):
    button = bench.widget("not_sure")
    plain = button.grab().toImage()
    button.setFocus(Qt.FocusReason.TabFocusReason)
    bench.qtbot.waitUntil(button.hasFocus)
    assert button.grab().toImage() != plain


@pytest.mark.parametrize("scheme", PALETTES)
def test_contrast_reaches_wcag(scheme):
    """WCAG 2.2: text 7:1 (1.4.6), edges, bars and focus 3:1 (1.4.11)."""
    palette = PALETTES[scheme]
    for ink, paper in palette.text_pairs:
        assert contrast_ratio(ink, paper) >= 7
    for line, ground in palette.edge_pairs:
        assert contrast_ratio(line, ground) >= 3


@pytest.mark.parametrize("scheme", PALETTES)
def test_the_colours_are_on_the_screen(bench, scheme):
    bench.click(f"scheme_{scheme}")
    bench.panel.show_page(0)
    bench.qtbot.wait(50)
    image = bench.widget("confirm").grab().toImage()
    colours = {
        image.pixelColor(x, y).getRgb()[:3]
        for x in range(image.width())
        for y in range(image.height())
    }
    assert {PALETTES[scheme].answer, PALETTES[scheme].answer_ink} <= colours
    assert settings_on_disk(bench)["scheme"] == scheme


def test_text_is_made_larger_and_smaller(bench, hand):
    for percent in (125, 150, 175, 200, 200):
        hand("text_larger")
        assert bench.control.settings.text_percent == percent
    for percent in (175, 150, 125, 100, 100):
        hand("text_smaller")
        assert bench.control.settings.text_percent == percent


def test_the_enhanced_view_is_chosen(bench, hand):
    hand("view_relief")
    assert bench.control.settings.view == "relief"
    assert "relief" in bench.widget("magnifier_title").text()


def test_the_limit_of_accepting_the_rest_is_chosen(bench, hand):
    hand("accept_lower")
    assert "from 75 %" in bench.widget("accept_rest").text()
    hand("accept_higher")
    hand("accept_higher")
    assert "from 85 %" in bench.widget("accept_rest").text()


def test_a_key_is_given_to_another_action(bench):
    names = [action.name for action in ACTIONS]
    bench.panel.show_page(4)
    bench.widget("key_list").setCurrentRow(names.index("confirm"))
    field = bench.widget("new_key")
    field.setFocus()
    bench.qtbot.keyClick(field, Qt.Key.Key_K)
    bench.click("use_key")
    assert settings_on_disk(bench)["keys"] == {"confirm": ["K"]}
    bench.panel.show_page(0)
    assert bench.widget("confirm").text() == "Yes\nK"
    assert bench.widget("reject").text() == "No\npad 2"
    flag = bench.session.current.id
    bench.key("K")
    bench.key("J")
    assert bench.on_disk == {flag: "confirmed"}
    bench.click("first_keys")
    bench.key("K")
    assert sorted(bench.on_disk.values()) == ["confirmed", "rejected"]


def test_a_key_needs_an_action_and_a_key(bench):
    bench.click("use_key")
    assert "press a key first" in bench.said[-1]


@pytest.mark.parametrize("way", ways("page_mend", "F6"))
def test_next_page(bench, way):
    act(bench, way)
    assert bench.panel.pages.currentIndex() == 1
    assert bench.widget("page_mend").isChecked()


def test_flags_are_read_aloud_only_if_asked(bench, monkeypatch):
    said = []
    monkeypatch.setattr(bench.panel.answer_page.voice, "say", said.append)
    bench.key("H")
    assert said == []
    bench.click("aloud")
    bench.key("H")
    assert said[-1].startswith("Flag 3 of 6, not answered. ")
    assert bench.widget("question").accessibleName() == said[-1]


def test_every_action_of_the_keys_is_done_by_the_window(bench):
    assert bench.panel.work().keys() == {action.name for action in ACTIONS}


def test_no_key_of_napari_is_taken_over(bench):
    window = bench.panel.window()
    theirs = {
        key.toString() for a in window.findChildren(QAction) for key in a.shortcuts()
    }
    theirs |= {str(key) for keys in default_shortcuts.values() for key in keys}
    assert len(theirs) > 50
    assert not theirs & {key for action in ACTIONS for key in action.keys}


def test_all_of_it_is_reached_by_tab(bench):
    bench.panel.show_page(0)
    start = bench.widget("page_answer")
    start.setFocus(Qt.FocusReason.TabFocusReason)
    reached: set[str] = set()
    for _ in range(60):
        widget: QWidget = bench.panel.window().focusWidget()
        reached.add(widget.objectName())
        bench.qtbot.keyClick(widget, Qt.Key.Key_Tab)
    assert {"confirm", "undo", "accept_rest", "hide", "next_clump"} <= reached
    assert {"magnifier", "nearer", "view", "undock"} <= reached
