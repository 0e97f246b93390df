"""The page of the season beside the review, in a real window."""

import pytest
from eyefind_napari.parts import dock_of
from eyefind_napari.season_page import season_dock
from eyefind_napari.theme import TARGET_PX, TEXT_PT
from qtpy.QtCore import QPoint, QRect, Qt
from qtpy.QtWidgets import QTabBar

from eyefind.rules import load_rules
from eyefind.season.batch import Looked, enter
from eyefind.season.garden import start_season
from eyefind.season.ledger import Ledger
from eyefind.season.placing import place_new
from eyefind.season.readings import read_reading

pytestmark = pytest.mark.gui


@pytest.fixture
def page(bench, tmp_path, monkeypatch):
    """The page, docked, of a season with the three clumps of the bench."""
    path, rules = tmp_path / "season.eyefind.db", load_rules()
    with Ledger(path) as ledger:
        season = start_season(ledger, "Quillfold", 2026)
        for photo in sorted(bench.folder.glob("*.png")):
            record = photo.with_name(f"{photo.stem}.eyefind.json")
            enter(ledger, season, Looked(photo, read_reading(record, rules)))
        place_new(ledger, season, rules)
    monkeypatch.setenv("EYEFIND_LEDGER", str(path))
    page = season_dock(bench.viewer)
    dock = bench.viewer.window.add_dock_widget(page, name="The season", area="right")
    yield page
    bench.viewer.window.remove_dock_widget(dock)
    page.ledger.close()


def photo_of(bench):
    return bench.session and bench.session.ready.photo.file


def test_a_chosen_clump_is_opened_in_the_review(bench, page):
    layers = len(bench.viewer.layers)
    (item,) = (
        page.queue.item(row)
        for row in range(page.queue.count())
        if "bed 2:" in page.queue.item(row).text()
    )
    page.queue.itemActivated.emit(item)
    bench.qtbot.waitUntil(lambda: photo_of(bench) == "bed 2.png")
    assert len(bench.viewer.layers) == layers


def test_an_answer_counts_when_it_is_looked_at_again(bench, page):
    bench.key("J")
    page.again.click()
    texts = [page.queue.item(row).text() for row in range(page.queue.count())]
    assert [t.strip() for t in texts if "bed 1" in t] == ["bed 1: to answer (5 flags)"]


def test_its_type_is_as_large_as_that_of_the_review(bench, page):
    assert page.queue.font().pointSizeF() == bench.panel.font().pointSizeF()


def test_its_type_grows_with_that_of_the_review(bench, page):
    before = page.queue.font().pointSizeF()
    bench.panel.control.set_settings(text_percent=200)
    assert page.queue.font().pointSizeF() == 2 * before
    assert page.queue.item(0).font().pointSizeF() == 2 * before


def test_it_shares_one_place_with_the_review_as_tabs(bench, page):
    window, dock = bench.panel.window(), dock_of(page)
    assert dock_of(bench.panel) in window.tabifiedDockWidgets(dock)
    bench.qtbot.waitUntil(lambda: not page.visibleRegion().isEmpty())
    assert bench.panel.visibleRegion().isEmpty()
    page.queue.itemActivated.emit(
        next(
            page.queue.item(row)
            for row in range(page.queue.count())
            if "bed 2:" in page.queue.item(row).text()
        )
    )
    bench.qtbot.waitUntil(lambda: not bench.panel.visibleRegion().isEmpty())


@pytest.mark.parametrize("percent", [100, 200])
@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_nothing_of_it_is_cut_off(bench, page, scheme, percent):
    bench.control.set_settings(text_percent=percent, scheme=scheme)
    bench.qtbot.wait(300)
    bar = dock_of(page).titleBarWidget()
    corner = page.state.mapTo(dock_of(page), QPoint(0, 0))
    assert not bar.geometry().intersects(QRect(corner, page.state.size()))
    assert page.state.height() >= page.state.heightForWidth(page.state.width())
    words = page.note.fontMetrics().horizontalAdvance(page.note.placeholderText())
    assert page.note.contentsRect().width() >= words
    for listed in (page.queue, page.short):
        assert listed.horizontalScrollBar().maximum() == 0
        assert listed.height() >= 240
    for made in (page.again, page.note):
        assert min(made.width(), made.height()) >= TARGET_PX
    tabs = [t for t in bench.panel.window().findChildren(QTabBar) if t.isVisible()]
    assert tabs
    for bar in tabs:
        assert bar.height() >= TARGET_PX
        assert bar.fontInfo().pointSizeF() >= TEXT_PT * percent / 100 - 0.5
        assert bar.focusPolicy() & Qt.FocusPolicy.TabFocus
