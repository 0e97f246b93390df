"""The magnifier in a real window: what it follows, how near, and where it stands."""

import numpy as np
import pytest
from eyefind_napari.pane import Pane
from eyefind_napari.parts import dock_of
from hands import act, ways

from eyefind.desk.magnify import SET_VIEWS, VIEWS, enhanced, natural

pytestmark = pytest.mark.gui


def pixels(pane):
    """What a pane shows, without its ring."""
    image = pane._image
    return np.frombuffer(image.constBits().asstring(image.sizeInBytes()), np.uint8)


def test_it_follows_the_flag(bench):
    bench.key("H")
    flag = bench.session.current
    assert bench.panel.magnifier.centre == (flag.row_px, flag.col_px)
    for name in ("natural", "enhanced"):
        pane = bench.widget(name)
        assert pane.isVisible()
        x, y = pane.window_shown.to_screen(flag.row_px, flag.col_px)
        assert (x, y) == pytest.approx((pane.width() / 2, pane.height() / 2), abs=1)


def test_the_pictures_of_the_next_flag_are_ready_before_its_turn(bench, monkeypatch):
    ahead = bench.session.upcoming
    made = bench.panel.magnifier._made
    place = ahead.row_px, ahead.col_px
    bench.qtbot.waitUntil(
        lambda: sum((seen.row_px, seen.col_px) == place for seen, _ in made) == 2
    )
    for name in ("natural", "enhanced"):
        monkeypatch.setattr(f"eyefind_napari.magnifier.{name}", lambda *_: 1 / 0)
    bench.control.answer("confirmed")
    session, pane = bench.session, bench.widget("natural")
    assert session.current.id == ahead.id
    alone = natural(session.ready, pane.window_shown)
    assert pane._image == Pane.image_of(alone)
    pane, view = bench.widget("enhanced"), bench.control.settings.view
    scale = session.record.scale.px_per_mm
    alone = enhanced(session.ready, pane.window_shown, view, scale)
    assert pane._image == Pane.image_of(alone)
    monkeypatch.undo()
    bench.settle()


@pytest.mark.parametrize("way", ways("nearer", "Shift+H", "Num++"))
def test_nearer_up_to_sixteen_times(bench, way):
    zoom = bench.widget("natural").window_shown.zoom
    act(bench, way)
    assert bench.control.settings.times == 10
    assert bench.widget("natural").window_shown.zoom == pytest.approx(zoom * 10 / 8)
    for _ in range(6):
        act(bench, way)
    assert bench.control.settings.times == 16


@pytest.mark.parametrize("way", ways("farther", "Shift+G", "Num+-"))
def test_farther_down_to_four_times(bench, way):
    for _ in range(6):
        act(bench, way)
    assert bench.control.settings.times == 4


@pytest.mark.parametrize("way", ways("view", "Shift+Q", "Num+*"))
def test_every_view_in_turn_beside_the_natural_one(bench, way):
    seen = {}
    of_one_photo = VIEWS.keys() - SET_VIEWS.keys()
    for _ in of_one_photo:
        natural = pixels(bench.widget("natural")).tobytes()
        seen[bench.control.settings.view] = pixels(bench.widget("enhanced")).tobytes()
        act(bench, way)
    assert seen.keys() == of_one_photo
    assert len({natural, *seen.values()}) == 1 + len(of_one_photo)
    assert bench.control.settings.view == "even_light"


@pytest.mark.parametrize("way", ways("undock", "F2"))
def test_it_gets_a_window_of_its_own_and_comes_back(bench, way):
    dock = dock_of(bench.panel.magnifier)
    act(bench, way)
    bench.qtbot.waitUntil(dock.isFloating)
    bench.key("J", bench.panel.magnifier)
    assert len(bench.on_disk) == 1
    act(bench, way)
    bench.qtbot.waitUntil(lambda: not dock.isFloating())


@pytest.mark.parametrize("way", ways("fill", "F3"))
def test_it_fills_the_screen_and_comes_back(bench, way):
    dock = dock_of(bench.panel.magnifier)
    room = bench.panel.magnifier.screen().availableGeometry()
    act(bench, way)
    bench.qtbot.waitUntil(lambda: dock.isFloating() and dock.geometry().contains(room))
    act(bench, way)
    bench.qtbot.waitUntil(lambda: not dock.isFloating())


def test_a_click_in_it_is_a_click_on_the_photo(bench):
    flag = bench.session.current
    bench.click("click_eye")
    bench.click("natural")
    added = bench.flag("G1")
    assert np.hypot(added.row_px - flag.row_px, added.col_px - flag.col_px) < 1
