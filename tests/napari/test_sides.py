"""Another side of the clump before: one click in a real window, or the pairs named."""

from dataclasses import replace

import pytest
from hands import act, ways

from eyefind.record import read_record
from eyefind.review import sides_in_force

pytestmark = pytest.mark.gui
ALL = "T1=T1, T2=T2, T3=T3, T4=T4, T5=T5"


def sides(bench, name="bed 1"):
    record = read_record(bench.folder / f"{name}.eyefind.json")
    return [
        (side.file, len(side.places_px)) for side in sides_in_force(record.decisions)
    ]


def show(bench, index, sure=True):
    """Show a clump; the painted one is too even for a sure suggestion of its own."""
    bench.control.go_to_clump(index)
    bench.qtbot.waitUntil(lambda: bench.session is not None)
    part = bench.panel.clumps_page.sides
    assert not part.before.found.sure
    part.before = replace(part.before, found=replace(part.before.found, sure=sure))


@pytest.fixture
def second(bench):
    show(bench, 1)
    yield bench
    bench.panel.clumps_page.sides.both.hide()


def test_the_first_clump_is_no_other_side(bench):
    bench.panel.show_page(3)
    assert not bench.widget("other_side").isEnabled()
    bench.key("F5")
    assert "no clump before" in bench.said[-1]


@pytest.mark.parametrize("way", ways("other_side", "F5"))
def test_one_click_takes_what_is_suggested(second, way):
    assert second.widget("pairs").text() == ALL
    assert "bed 1" in second.widget("side_told").text()
    act(second, way)
    assert sides(second) == [("bed 2.png", 5)]
    assert "planned with bed 1" in second.said[-1]


@pytest.fixture
def unsure(bench):
    """The second clump, whose suggestion another turn would fit as well."""
    show(bench, 1, sure=False)
    yield bench
    bench.panel.clumps_page.sides.both.hide()


@pytest.mark.parametrize("way", ways("other_side", "F5"))
def test_an_unsure_match_shows_both_photos_and_wants_a_second_press(unsure, way):
    act(unsure, way)
    window = unsure.widget("sides_window")
    assert window.isVisible()
    assert sides(unsure) == []
    assert "Not sure" in unsure.widget("sides_asked").text()
    assert "once more" in unsure.widget("sides_said").text()
    unsure.key("F5", window) if way[0] == "key" else unsure.click("keep_pairs")
    assert sides(unsure) == [("bed 2.png", 5)]
    assert not window.isVisible()


def test_nothing_is_kept_when_the_photos_are_closed(unsure):
    unsure.key("F5")
    unsure.key("Escape", unsure.widget("sides_window"))
    assert not unsure.widget("sides_window").isVisible()
    unsure.key("F5")  # It asks again.
    assert sides(unsure) == []
    unsure.click("keep_nothing")
    assert sides(unsure) == []


def test_pairs_that_the_grower_put_right_are_no_guess(unsure):
    unsure.panel.show_page(3)
    unsure.widget("pairs").setText("T1=T3, T2=T4")
    unsure.click("other_side")
    assert sides(unsure) == [("bed 2.png", 2)]


@pytest.mark.parametrize("way", ways("see_sides", "Shift+F5"))
def test_both_photos_are_seen_with_their_tubers_named(second, way):
    act(second, way)
    window, picture = second.widget("sides_window"), second.widget("both_sides")
    assert window.isVisible()
    assert sides(second) == []
    assert "bed 1" in second.widget("side_before").text()
    assert "bed 2" in second.widget("side_here").text()
    room = 0.8 * window.screen().availableGeometry().width()
    second.qtbot.waitUntil(lambda: picture.width() > room)
    shown = picture.grab().toImage()
    left, right = shown.width() // 4, 3 * shown.width() // 4
    for x in (left, right):  # Something of a clump in both halves, not one colour.
        column = {shown.pixel(x, y) for y in range(shown.height())}
        assert len(column) > 5
    second.widget("pairs_here").setText("T1=T9")
    second.key("F5", window)
    assert "no such tuber" in second.widget("sides_said").text()
    second.widget("pairs_here").setText("T1=T3")
    second.key("F5", window)
    assert sides(second) == [("bed 2.png", 1)]
    for name in ("keep_pairs", "keep_nothing", "pairs_here"):
        assert second.widget(name).height() >= 44


def test_a_third_photo_is_a_side_of_the_same_clump(second):
    second.click("other_side")
    show(second, 2)
    second.click("other_side")
    assert sides(second) == [("bed 2.png", 5), ("bed 3.png", 5)]
    assert sides(second, "bed 2") == []


def test_the_pairs_are_named_instead(second):
    second.panel.show_page(3)
    second.widget("pairs").setText("T1=T9")
    second.click("other_side")
    assert "no such tuber" in second.said[-1]
    assert sides(second) == []
    second.widget("pairs").setText("T1=T3, T2=T4")
    second.click("other_side")
    assert sides(second) == [("bed 2.png", 2)]


def test_the_far_eyes_are_in_the_plan_of_the_window_and_undo_takes_them_out(second):
    second.click("other_side")
    while second.session.open_flags:
        second.key("J")
    second.control.go_to_clump(0)
    second.qtbot.waitUntil(lambda: second.session is not None)
    while second.session.open_flags:
        second.key("K")
    second.qtbot.waitUntil(lambda: second.control.plan is not None)
    assert sum(piece.far_eyes for piece in second.control.plan.pieces) >= 3
    for _ in range(len(second.session.words) + 1):
        second.key("U")
    assert sides(second) == []


def test_the_button_and_the_field_are_large_enough_to_hit(second):
    second.panel.show_page(3)
    for name in ("other_side", "see_sides", "pairs"):
        assert second.widget(name).height() >= 44
