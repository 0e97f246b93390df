"""The lamp in a real window: turned, lifted, dragged and swung, by key and by mouse."""

import shutil
import time
from contextlib import contextmanager
from itertools import combinations

import numpy as np
import pytest
from eyefind_napari.theme import PALETTES, TARGET_PX
from hands import act, ways
from lamp_sets import write_lamp_set
from qtpy.QtCore import QPoint, Qt

from eyefind.desk.lamp import FRAMES_GONE, NO_SET, Lamp
from eyefind.desk.magnify import LAMP_VIEW, VIEWS
from eyefind.desk.settings import MOST_CHANGES_PER_S
from eyefind.sheet.style import contrast_ratio

pytestmark = pytest.mark.gui
LAMP_PAGE = 5
BUTTONS = (
    "lamp_left",
    "lamp_right",
    "lamp_lower",
    "lamp_higher",
    "all_lamps",
    "swing",
    "slower",
    "faster",
)


@pytest.fixture(scope="session")
def first_garden(first_garden, tmp_path_factory):
    """Bed 1 has a set of three, bed 2 one photo, the frames of bed 3 are gone."""
    folder = shutil.copytree(first_garden, tmp_path_factory.mktemp("lamp") / "garden")
    for bed in ("bed 1", "bed 3"):
        (folder / f"{bed}.eyefind.json").unlink()
        write_lamp_set(folder, bed)
    for frame in folder.glob("bed 3-lamp*"):
        frame.unlink()
    return folder


@pytest.fixture
def lamp(bench):
    """The lamp of bed 1, its frames read, as at first."""
    part = bench.panel.lamp
    bench.qtbot.waitUntil(lambda: not part.why, timeout=10_000)
    part.lamp = Lamp()
    part.changed.emit()
    return part


def shown(bench, pane):
    return bench.widget(pane)._image.copy()


def press_at(bench, name, x, y):
    """Where (x, y) of the dial lies on a widget."""
    widget = bench.widget(name)
    half = getattr(widget, "radius", min(widget.width(), widget.height()) / 2)
    middle = widget.rect().center()
    return widget, middle + QPoint(round(x * half), round(y * half))


def drag(bench, name, start, end):
    """Drag the mouse over a widget, from and to (x, y) of the dial."""
    widget, first = press_at(bench, name, *start)
    _, last = press_at(bench, name, *end)
    bench.qtbot.mousePress(widget, Qt.MouseButton.LeftButton, pos=first)
    for share in (0.5, 1.0):
        at = first + (last - first) * share
        bench.qtbot.mouseMove(widget, at)
        bench.qtbot.wait(30)
    bench.qtbot.mouseRelease(widget, Qt.MouseButton.LeftButton, pos=last)


@pytest.mark.parametrize(
    ("name", "key", "azimuth", "height"),
    [
        ("lamp_left", "F11", 300, 20),
        ("lamp_right", "F12", 330, 20),
        ("lamp_lower", "Shift+F11", 315, 15),
        ("lamp_higher", "Shift+F12", 315, 25),
    ],
)
@pytest.mark.parametrize("hand", ["key", "mouse"])
def test_the_lamp_is_moved(bench, lamp, name, key, azimuth, height, hand):
    bench.control.set_settings(view=LAMP_VIEW)
    before = shown(bench, "enhanced")
    natural = shown(bench, "natural")
    act(bench, ("key", key) if hand == "key" else ("click", name))
    assert lamp.lamp == Lamp(azimuth, height)
    assert shown(bench, "enhanced") != before
    assert shown(bench, "natural") == natural
    assert f"{height} degrees high" in bench.widget("lamp_place").text()


def test_moving_the_lamp_shows_the_relief(bench, lamp):
    assert bench.control.settings.view != LAMP_VIEW
    bench.key("F11")
    assert bench.control.settings.view == LAMP_VIEW
    assert "relief by your lamp" in bench.widget("magnifier_title").text()


def test_the_lamp_goes_all_around_and_from_bench_to_overhead(bench, lamp):
    bench.control.set_settings(view=LAMP_VIEW)
    seen = set()
    for _ in range(24):
        bench.key("F12")
        seen.add(lamp.lamp.azimuth_deg)
    assert len(seen) == 24
    for _ in range(20):
        bench.key("Shift+F12")
    assert lamp.lamp.height_deg == 90
    for _ in range(20):
        bench.key("Shift+F11")
    assert lamp.lamp.height_deg == 0


def test_the_lamp_is_dragged_on_the_dial(bench, lamp):
    bench.panel.show_page(LAMP_PAGE)
    bench.panel.pages.widget(LAMP_PAGE).ensureWidgetVisible(bench.widget("dial"))
    bench.qtbot.wait(30)
    drag(bench, "dial", (0.0, -0.5), (0.5, 0.0))
    assert lamp.lamp.azimuth_deg == pytest.approx(90, abs=3)
    assert lamp.lamp.height_deg == pytest.approx(45, abs=3)
    assert bench.control.settings.view == LAMP_VIEW


@pytest.mark.parametrize(
    ("key", "azimuth", "height"),
    [("Left", 300, 20), ("Right", 330, 20), ("Up", 315, 25), ("Down", 315, 15)],
)
def test_the_arrow_keys_move_it_on_the_dial(bench, lamp, key, azimuth, height):
    bench.panel.show_page(LAMP_PAGE)
    bench.key(key, bench.widget("dial"))
    assert lamp.lamp == Lamp(azimuth, height)


def test_the_lamp_is_dragged_in_the_magnifier(bench, lamp):
    bench.control.set_settings(view=LAMP_VIEW)
    drag(bench, "enhanced", (0.1, 0.1), (-0.5, 0.0))
    assert lamp.lamp.azimuth_deg == pytest.approx(270, abs=3)
    assert lamp.lamp.height_deg == pytest.approx(45, abs=3)


def test_a_drag_moves_no_lamp_while_a_click_is_wanted_or_in_another_view(bench, lamp):
    drag(bench, "enhanced", (0.1, 0.1), (-0.5, 0.0))
    assert lamp.lamp == Lamp()
    bench.control.set_settings(view=LAMP_VIEW)
    drag(bench, "natural", (0.1, 0.1), (-0.5, 0.0))
    assert lamp.lamp == Lamp()
    bench.panel.clicks.ask("Click twice.", 3, lambda _: None)
    drag(bench, "enhanced", (0.1, 0.1), (-0.5, 0.0))
    assert lamp.lamp == Lamp()


@pytest.mark.parametrize("way", ways("swing", "F10"))
def test_the_frames_are_shown_in_turn_until_paused(bench, lamp, way):
    bench.control.set_settings(changes_per_s=MOST_CHANGES_PER_S)
    main, enhanced = shown(bench, "natural"), shown(bench, "enhanced")
    act(bench, way)
    assert bench.widget("swing").text().startswith("Pause")
    frames = {}
    for number in (1, 2, 0):
        bench.qtbot.waitUntil(lambda n=number: lamp.number == n, timeout=2_000)
        frames[number] = shown(bench, "natural")
        assert f"Frame {number + 1} of 3" in bench.widget("magnifier_title").text()
    assert frames[0] == main
    assert frames[1] != main != frames[2] != frames[1]
    assert shown(bench, "enhanced") == enhanced
    act(bench, way)
    held = shown(bench, "natural")
    bench.qtbot.wait(800)
    assert shown(bench, "natural") == held
    assert bench.widget("swing").text().startswith("Swing")


@contextmanager
def changes_of(bench, lamp, seconds):
    """Gather when the natural pane changes; waits so long after the block is done."""
    pane, times, last = bench.widget("natural"), [], [None]
    show = pane.show_pixels

    def watched(pixels, window):
        if last[0] is not None and not np.array_equal(pixels, last[0]):
            times.append(time.monotonic())
        last[0] = pixels
        show(pixels, window)

    pane.show_pixels = watched
    try:
        lamp.changed.emit()
        yield times
        bench.qtbot.wait(round(1000 * seconds))
    finally:
        pane.show_pixels = show


def most_in_a_second(times):
    return max(sum(0 <= t - one < 1 for t in times) for one in times)


def test_never_more_than_three_changes_a_second(bench, lamp):
    """WCAG 2.2, 2.3.1, measured in the pane, with every wish for more granted."""
    for _ in range(12):
        bench.key("Shift+F8")
    assert bench.control.settings.changes_per_s == 3
    bench.control.set_settings(changes_per_s=50)
    assert "changes_per_s" in bench.said[-1]
    bench.control.settings.__dict__["changes_per_s"] = 50.0
    with changes_of(bench, lamp, 4) as times:
        bench.key("F10")
    assert 8 <= len(times) <= 12
    assert most_in_a_second(times) <= 3


def test_a_window_that_was_busy_makes_up_for_nothing(bench, lamp):
    bench.control.set_settings(changes_per_s=3)
    with changes_of(bench, lamp, 3) as times:
        bench.key("F10")
        bench.qtbot.wait(360)
        time.sleep(0.6)
    assert len(times) >= 5
    assert most_in_a_second(times) <= 3


def test_pausing_and_starting_hastily_changes_nothing(bench, lamp):
    for _ in range(20):
        bench.key("F10")
    assert lamp.number == 0


@pytest.mark.parametrize(
    ("name", "key", "pace"), [("slower", "Shift+F7", 0.5), ("faster", "Shift+F8", 1.5)]
)
@pytest.mark.parametrize("hand", ["key", "mouse"])
def test_the_pace_is_chosen_and_kept(bench, lamp, name, key, pace, hand):
    act(bench, ("key", key) if hand == "key" else ("click", name))
    assert bench.control.settings.changes_per_s == pace
    assert f"{pace} changes" in bench.widget("pace").text()
    assert f'"changes_per_s": {pace}' in bench.control.settings_file.read_text()


def test_another_flag_begins_with_the_photo_itself(bench, lamp):
    bench.control.set_settings(changes_per_s=3)
    bench.key("F10")
    bench.qtbot.waitUntil(lambda: lamp.number == 1, timeout=2_000)
    bench.key("H")
    assert lamp.swinging
    bench.key("F10")
    held = lamp.number
    bench.key("H")
    assert held >= 1
    assert lamp.number == 0


def test_an_eye_is_answered_while_the_lamp_swings(bench, lamp):
    bench.key("F10")
    bench.key("J")
    assert list(bench.on_disk.values()) == ["confirmed"]
    assert lamp.swinging


def test_a_clump_without_a_set_says_why_the_lamp_is_off(bench, lamp):
    bench.control.set_settings(view=LAMP_VIEW)
    bench.key("F10")
    bench.control.next_clump()
    bench.qtbot.waitUntil(lambda: bench.session is not None, timeout=10_000)
    assert not lamp.swinging
    assert "relief:" in bench.widget("magnifier_title").text()
    bench.panel.show_page(LAMP_PAGE)
    assert bench.widget("lamp_state").text() == NO_SET
    for name in BUTTONS:
        assert not bench.widget(name).isEnabled()
        assert bench.widget(name).accessibleDescription() == NO_SET
        assert bench.widget(name).toolTip() == NO_SET
    for key in ("F10", "F11", "F12"):
        bench.said.clear()
        bench.key(key)
        assert bench.said == [NO_SET]
    assert lamp.lamp == Lamp()
    bench.control.next_clump()
    bench.qtbot.waitUntil(lambda: lamp.why == FRAMES_GONE, timeout=10_000)
    assert bench.widget("lamp_state").text() == FRAMES_GONE


def test_the_lamp_is_off_until_the_frames_are_read(bench, lamp):
    """The swing ends with the clump; back there its frames are read anew."""
    bench.key("F10")
    bench.control.next_clump()
    bench.control.previous_clump()
    assert not lamp.swinging
    bench.qtbot.waitUntil(lambda: not lamp.why, timeout=10_000)
    assert lamp.number == 0
    assert not lamp.swinging
    assert all(bench.widget(name).isEnabled() for name in BUTTONS)


@pytest.mark.parametrize("way", ways("view", "Shift+Q"))
def test_relief_and_all_lamps_are_among_the_views(bench, lamp, way):
    seen = {}
    for _ in VIEWS:
        seen[bench.control.settings.view] = shown(bench, "enhanced")
        act(bench, way)
    assert seen.keys() == VIEWS.keys()
    pictures = [shown(bench, "natural"), *seen.values()]
    assert all(one != other for one, other in combinations(pictures, 2))


def test_all_lamps_without_glare_are_a_view(bench, lamp):
    """A photo alone has no such picture: there its light is evened."""
    bench.control.set_settings(view="all_lamps")
    assert "all lamps, no glare" in bench.widget("magnifier_title").text()
    window = bench.widget("enhanced").window_shown
    before = lamp.enhanced(window)
    bench.key("F10")
    bench.qtbot.waitUntil(lambda: lamp.number == 1, timeout=2_000)
    assert (lamp.enhanced(window) == before).all()
    bench.control.next_clump()
    bench.qtbot.waitUntil(lambda: bench.session is not None, timeout=10_000)
    assert "even light:" in bench.widget("magnifier_title").text()


@pytest.mark.parametrize("way", ways("all_lamps", "Shift+F9"))
def test_all_lamps_and_the_relief_are_a_button_apart(bench, lamp, way):
    button = bench.widget("all_lamps")
    for view in ("all_lamps", LAMP_VIEW):
        act(bench, way)
        assert bench.control.settings.view == view
        assert button.isChecked() == (view == "all_lamps")
    bench.control.next_clump()
    bench.qtbot.waitUntil(lambda: bench.session is not None, timeout=10_000)
    bench.key("Shift+F9")
    assert bench.said[-1] == NO_SET
    assert bench.control.settings.view == LAMP_VIEW


@pytest.mark.parametrize("scheme", PALETTES)
def test_the_dial_is_well_seen_when_it_is_off_too(bench, lamp, scheme):
    """WCAG 2.2, 1.4.11: 3:1 for a graphic; switched off it has gaps, not less ink."""
    bench.control.set_settings(scheme=scheme)
    bench.panel.show_page(LAMP_PAGE)
    colours, dial = PALETTES[scheme], bench.widget("dial")
    inked = []
    for on in (True, False):
        dial.setEnabled(on)
        bench.qtbot.wait(20)
        image = dial.grab().toImage()
        middle, ratio = dial.rect().center(), image.devicePixelRatio()
        turns = np.linspace(0, 2 * np.pi, 400, endpoint=False)
        rim = [
            image.pixelColor(
                round((middle.x() + dial.radius * np.cos(turn)) * ratio),
                round((middle.y() + dial.radius * np.sin(turn)) * ratio),
            ).getRgb()[:3]
            for turn in turns
        ]
        strong = [contrast_ratio(seen, colours.ground) >= 3 for seen in rim]
        inked.append(np.mean(strong))
    whole, dashed = inked
    assert whole > 0.8
    assert 0.4 < dashed < 0.95 * whole


def test_buttons_have_their_keys_and_are_large(bench, lamp):
    bench.panel.show_page(LAMP_PAGE)
    bench.qtbot.wait(30)
    for name, key in zip(
        BUTTONS,
        (
            *("F11", "F12", "Shift+F11", "Shift+F12", "Shift+F9"),
            *("F10", "Shift+F7", "Shift+F8"),
        ),
        strict=True,
    ):
        button = bench.widget(name)
        assert button.text().endswith(f"\n{key}")
        assert min(button.width(), button.height()) >= TARGET_PX
    dial = bench.widget("dial")
    assert min(dial.width(), dial.height()) >= TARGET_PX
    assert "above left" in dial.accessibleName()
    assert dial.focusPolicy() & Qt.FocusPolicy.TabFocus


def test_an_own_key_swings_the_lamp(bench, lamp):
    bench.control.set_settings(keys={"swing": ["F1"]})
    bench.key("F10")
    assert not lamp.swinging
    bench.key("F1")
    assert lamp.swinging
