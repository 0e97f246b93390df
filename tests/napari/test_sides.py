"""Another side of the clump before: one click in a real window, or the pairs named."""

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


@pytest.fixture
def second(bench):
    bench.control.go_to_clump(1)
    bench.qtbot.waitUntil(lambda: bench.session is not None)
    return bench


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


def test_a_third_photo_is_a_side_of_the_same_clump(second):
    second.click("other_side")
    second.control.go_to_clump(2)
    second.qtbot.waitUntil(lambda: second.session is not None)
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
    for name in ("other_side", "pairs"):
        assert second.widget(name).height() >= 44
