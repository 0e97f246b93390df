"""Panel, magnifier and photo share the window at every size of the text."""

import pytest
from eyefind_napari.parts import dock_of
from eyefind_napari.room import BELOW, LEFT
from eyefind_napari.theme import NAPARI_TITLE_PX
from qtpy.QtCore import QPoint, QRect, Qt
from qtpy.QtWidgets import QLabel

from eyefind.desk.keys import BY_NAME, key_words

pytestmark = pytest.mark.gui

LOOKS_PAGE = 4
LARGE, SMALL = (1920, 1200), (1366, 768)


@pytest.fixture
def sized(bench):
    """Gives the window a size and the text another; puts both back."""
    window = bench.panel.window()
    usual = window.size()

    def size(size_px, percent):
        window.resize(*size_px)
        bench.control.set_settings(text_percent=percent)
        bench.qtbot.wait(400)
        return window

    yield size
    bench.control.set_settings(text_percent=100)
    bench.qtbot.wait(50)
    window.resize(usual)
    bench.qtbot.waitUntil(lambda: place(bench, window) == LEFT)


def place(bench, window):
    return window.dockWidgetArea(dock_of(bench.panel.magnifier))


def lies_in(widget, window):
    """Whether all of a widget is seen inside the window."""
    corner = widget.mapTo(window, QPoint(0, 0))
    return window.rect().contains(QRect(corner, widget.size()))


@pytest.mark.parametrize(
    ("size_px", "percent", "least", "area"),
    [
        (LARGE, 100, 0.51, LEFT),
        (LARGE, 150, 0.40, LEFT),
        (LARGE, 175, 0.60, BELOW),
        (LARGE, 200, 0.60, BELOW),
        (SMALL, 100, 0.40, LEFT),
        (SMALL, 125, 0.55, BELOW),
        (SMALL, 150, 0.55, BELOW),
        (SMALL, 175, 0.50, BELOW),
        (SMALL, 200, 0.43, BELOW),
    ],
)
def test_the_photo_keeps_its_room(bench, sized, size_px, percent, least, area):
    window = sized(size_px, percent)
    assert (window.width(), window.height()) == size_px
    photo = window.centralWidget()
    assert photo.width() >= least * window.width()
    assert photo.height() >= 0.4 * window.height()
    assert place(bench, window) == area


@pytest.mark.parametrize(
    ("size_px", "percent"),
    [
        (size, percent)
        for size in (LARGE, SMALL)
        for percent in (100, 125, 150, 175, 200)
    ],
)
def test_all_of_the_magnifier_is_seen(bench, sized, size_px, percent):
    window = sized(size_px, percent)
    magnifier = bench.panel.magnifier
    assert magnifier.isVisible()
    for pane in magnifier.panes:
        assert pane.isVisible()
        assert min(pane.width(), pane.height()) >= 150
        assert lies_in(pane, window)
    away = not magnifier.shelf.isHidden()
    assert away == (size_px == SMALL and percent > 100)
    if away:
        bench.panel.show_page(LOOKS_PAGE)
        assert min(pane.width() for pane in magnifier.panes) > 250
    for name, made in magnifier.buttons.items():
        if away:
            bench.panel.pages.currentWidget().ensureWidgetVisible(made)
        holder = bench.panel.pages.currentWidget().viewport() if away else window
        assert lies_in(made, holder), name
        assert made.width() >= made.sizeHint().width(), name
        assert made.height() >= made.sizeHint().height(), name
        assert key_words(BY_NAME[name].keys, "\n") in made.text().replace(", ", "\n")
    title = magnifier.title
    assert title.height() >= title.heightForWidth(title.width())
    bar = dock_of(magnifier).titleBarWidget()
    for shown in (title, magnifier.panes[0]):
        corner = shown.mapTo(dock_of(magnifier), QPoint(0, 0))
        assert not bar.geometry().intersects(QRect(corner, shown.size()))


@pytest.mark.parametrize("scheme", ["dark", "light"])
@pytest.mark.parametrize("percent", [100, 150, 200])
@pytest.mark.parametrize("size_px", [LARGE, SMALL])
def test_the_three_answers_are_seen_wherever_the_page_is(
    bench, sized, size_px, percent, scheme
):
    window = sized(size_px, percent)
    bench.control.set_settings(scheme=scheme)
    answers = [bench.widget(name) for name in ("confirm", "reject", "not_sure")]
    bar, places = bench.area(0).verticalScrollBar(), set()
    for flag in bench.session.flags:
        bench.control.do(lambda session, flag=flag: session.go_to(flag.id))
        for value in (bar.minimum(), bar.maximum()):
            bar.setValue(value)
            bench.qtbot.wait(20)
            for made in answers:
                assert lies_in(made, window), made.text()
                seen = made.visibleRegion().boundingRect()
                assert seen == made.rect(), made.text()
                assert made.width() >= made.sizeHint().width(), made.text()
                assert made.height() >= made.sizeHint().height(), made.text()
                at = made.mapTo(window, QPoint(0, 0))
                places.add((at.x(), at.y()))
    assert len(places) == 3, "they stay where the hand found them"


@pytest.mark.parametrize("percent", [100, 150, 200])
@pytest.mark.parametrize("size_px", [LARGE, SMALL])
def test_each_question_is_seen_with_how_likely_it_is(bench, sized, size_px, percent):
    sized(size_px, percent)
    view = bench.area(0).viewport()
    for flag in bench.session.flags:
        bench.control.do(lambda session, flag=flag: session.go_to(flag.id))
        bench.qtbot.wait(20)
        for name in ("question", "chance"):
            assert lies_in(bench.widget(name), view), (flag.id, name)


@pytest.mark.parametrize("percent", [100, 200])
@pytest.mark.parametrize("size_px", [LARGE, SMALL])
def test_titles_and_the_status_line_are_not_cut(bench, sized, size_px, percent):
    window = sized(size_px, percent)
    bench.viewer.cursor.position = (1.0, 1.0)
    layer = bench.viewer.layers[-1]
    window.statusBar().setStatusText(layer_base=layer.name, coordinates="[1, 1]: ")
    bench.qtbot.wait(50)
    # napari gives its help no room while it tells coordinates.
    shown = [t for t in window.statusBar().findChildren(QLabel) if t.width() > 0]
    shown += [bar.title for bar in window.findChildren(QLabel, "QtCustomTitleBar")]
    shown = [text for text in shown if text.isVisible() and text.text()]
    assert len(shown) >= 3
    for text in shown:
        needed = text.fontMetrics().horizontalAdvance(text.text().strip())
        assert text.contentsRect().width() >= needed, text.text()
        assert "\N{HORIZONTAL ELLIPSIS}" not in QLabel.text(text), text.text()
        assert text.contentsRect().height() >= text.fontMetrics().height(), text.text()


def test_docks_give_back_what_large_text_took(bench, sized):
    window = sized(LARGE, 100)
    before = [dock_of(w).width() for w in (bench.panel, bench.panel.magnifier)]
    sized(LARGE, 200)
    sized(LARGE, 100)
    after = [dock_of(w).width() for w in (bench.panel, bench.panel.magnifier)]
    assert after == before
    assert place(bench, window) == LEFT


def test_a_magnifier_that_the_grower_moved_stays_there(bench, sized):
    window = sized(LARGE, 100)
    dock, right = dock_of(bench.panel.magnifier), Qt.DockWidgetArea.RightDockWidgetArea
    window.addDockWidget(right, dock)
    sized(LARGE, 200)
    assert place(bench, window) == right
    window.addDockWidget(LEFT, dock)
    sized(LARGE, 200)
    assert place(bench, window) == BELOW


def test_back_from_a_window_of_its_own_it_fits_in_again(bench, sized):
    window = sized(LARGE, 200)
    magnifier = bench.panel.magnifier
    magnifier.fill()
    bench.qtbot.waitUntil(dock_of(magnifier).isFloating)
    bench.qtbot.waitUntil(lambda: magnifier.wide)
    bar = dock_of(magnifier).titleBarWidget()
    top = magnifier.layout().contentsMargins().top()
    assert top + NAPARI_TITLE_PX >= bar.minimumSizeHint().height()
    magnifier.fill()
    bench.qtbot.waitUntil(lambda: not dock_of(magnifier).isFloating())
    bench.qtbot.wait(100)
    assert place(bench, window) == BELOW
    assert (window.width(), window.height()) == LARGE
    assert all(lies_in(pane, window) for pane in magnifier.panes)


def test_buttons_that_found_no_room_come_back(bench, sized):
    magnifier = bench.panel.magnifier
    sized(SMALL, 200)
    assert bench.panel.looks_page.isAncestorOf(magnifier.tools)
    times = bench.control.settings.times
    bench.click("nearer")
    assert bench.control.settings.times == times + 2
    bench.click("undock")
    bench.qtbot.waitUntil(lambda: magnifier.isAncestorOf(magnifier.tools))
    magnifier.undock()
    bench.qtbot.waitUntil(lambda: not magnifier.isAncestorOf(magnifier.tools))
    sized(LARGE, 100)
    assert magnifier.isAncestorOf(magnifier.tools)
    assert magnifier.shelf.isHidden()
