"""Pointing at eyes, moving flags and putting the anatomy right, by key and mouse."""

import numpy as np
import pytest
from eyefind_napari.mend_page import part_names
from painted import painted_clump
from qtpy.QtCore import Qt
from qtpy.QtWidgets import QWidget

from eyefind.job import TwoPoints, TypedWidth
from eyefind.record import read_record
from eyefind.review import in_force

pytestmark = pytest.mark.gui

EMPTY = (640.0, 500.0)
"""A place of the painted clump without a flag, on the crown's rim."""
ANATOMY = painted_clump().anatomy
TUBERS = {tuber.id: tuber for tuber in ANATOMY.tubers}


def middle(name):
    axis = TUBERS[name].axis_px
    return tuple(axis[len(axis) // 2])


def force(bench):
    return in_force(read_record(bench.session.review.path))


def near(flag, place, within=3.0):
    return np.hypot(flag.row_px - place[0], flag.col_px - place[1]) < within


@pytest.mark.parametrize("key", ["W", "Num+8"])
def test_an_eye_is_added_at_the_mouse_by_key(bench, key):
    bench.point(*EMPTY)
    bench.key(key)
    assert bench.on_disk == {"G1": "confirmed"}
    assert near(bench.flag("G1"), EMPTY)
    assert bench.session.current.id == "G1"
    bench.key("U")
    assert bench.on_disk == {}
    assert "G1" not in [flag.id for flag in bench.session.flags]


def test_an_eye_is_added_by_one_click(bench):
    bench.click("click_eye")
    assert "Click on the eye" in bench.widget("task").text()
    bench.click_photo(*EMPTY)
    assert near(bench.flag("G1"), EMPTY)
    assert bench.widget("task").isHidden()


def test_without_a_task_a_click_does_nothing(bench):
    bench.click_photo(*EMPTY)
    assert bench.on_disk == {}


def test_a_task_can_be_given_up(bench):
    bench.click("click_eye")
    bench.click("give_up")
    bench.click_photo(*EMPTY)
    assert bench.on_disk == {}


def test_an_eye_is_added_with_the_arrow_keys_alone(bench):
    magnifier = bench.panel.magnifier
    magnifier.setFocus()
    bench.qtbot.waitUntil(magnifier.hasFocus)
    start = bench.session.current
    for _ in range(3):
        bench.qtbot.keyClick(magnifier, Qt.Key.Key_Down)
    bench.qtbot.keyClick(magnifier, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    bench.key("W", magnifier)
    scale = bench.session.record.scale.px_per_mm
    place = (start.row_px + 3 * scale, start.col_px + 0.2 * scale)
    assert near(bench.flag("G1"), place, 0.1)


@pytest.mark.parametrize("key", ["Shift+W", "Num+/"])
def test_a_flag_is_moved_to_the_pointer(bench, key):
    flag = bench.session.current.id
    bench.point(*EMPTY)
    bench.key(key)
    assert near(bench.flag(flag), EMPTY)
    assert bench.on_disk == {}


def test_a_flag_is_moved_by_a_click(bench):
    flag = bench.session.current.id
    bench.click("click_move")
    bench.click_photo(*EMPTY)
    assert near(bench.flag(flag), EMPTY)


@pytest.mark.parametrize(
    ("way", "factor"),
    [
        (("key", "Shift+J"), 1.25),
        (("key", "Num+9"), 1.25),
        (("click", "larger"), 1.25),
        (("key", "Shift+N"), 0.8),
        (("key", "Num+7"), 0.8),
        (("click", "smaller"), 0.8),
    ],
)
def test_a_flag_is_resized_without_dragging(bench, way, factor):
    flag = bench.session.current
    getattr(bench, way[0])(way[1])
    assert bench.flag(flag.id).size_mm == pytest.approx(flag.size_mm * factor, rel=0.01)


def test_a_flag_is_tied_to_another_tuber(bench, hand):
    flag = bench.session.current
    assert flag.belongs_to != "T3"
    hand("part_T3")
    hand("tie")
    assert bench.flag(flag.id).belongs_to == "T3"


def test_a_tuber_is_marked_as_spent_parent_or_soft(bench, hand):
    hand("part_T5")
    hand("mark_parent")
    assert bench.on_disk == {"F1": "confirmed"}  # The flag that was there already.
    hand("part_T2")
    hand("mark_soft")
    added = bench.flag("G1")
    assert (added.kind, added.belongs_to) == ("soft", "T2")
    assert bench.on_disk["G1"] == "confirmed"


def test_a_tuber_is_marked_blind_in_one_go(bench, hand):
    hand("part_T2")
    hand("mark_blind")
    assert bench.on_disk == {"G1": "rejected", "E2": "rejected"}
    bench.key("U")
    assert bench.on_disk == {}


def test_one_click_makes_a_stem(bench, hand, take):
    hand("mend_stem")
    take(*middle("T3"))
    anatomy = force(bench).anatomy
    assert "T3" not in [tuber.id for tuber in anatomy.tubers]
    assert [stem.id for stem in anatomy.stems] == ["S1", "S2"]
    bench.key("U")
    assert [stem.id for stem in force(bench).anatomy.stems] == ["S1"]


def test_two_clicks_merge_tubers(bench, hand, take):
    hand("mend_merge")
    take(*middle("T2"))
    assert bench.said[-1].startswith("Click on both") or bench.widget("task").text()
    take(*middle("T3"))
    record = force(bench)
    assert [t.id for t in record.anatomy.tubers] == ["T1", "T2", "T4", "T5", "T6"]
    assert {f.belongs_to for f in record.flags if f.id in ("E2", "E3")} == {"T2"}


def test_two_clicks_split_a_tuber(bench, hand, take):
    tuber = TUBERS["T3"]
    across = np.array([0.0, 1.0]) * 16 * bench.session.record.scale.px_per_mm
    centre = np.array(middle("T3"))
    hand("mend_split")
    take(*(centre - across))
    take(*(centre + across))
    tubers = {t.id: t for t in force(bench).anatomy.tubers}
    assert sorted(tubers) == ["T1", "T2", "T3", "T4", "T5", "T6", "T7"]
    assert tubers["T7"].attached_to == "T3"
    parts = tubers["T3"].volume_ml + tubers["T7"].volume_ml
    assert parts == pytest.approx(tuber.volume_ml, rel=0.15)


def test_two_clicks_hang_a_tuber_on_another(bench, hand, take):
    hand("mend_attach")
    take(*middle("T4"))
    take(*middle("T3"))
    tubers = {t.id: t for t in force(bench).anatomy.tubers}
    assert tubers["T4"].attached_to == "T3"


def test_clicks_that_mean_nothing_are_said_and_nothing_is_written(bench):
    before = bench.session.review.path.read_bytes()
    bench.click("mend_merge")
    bench.click_photo(20, 20)
    bench.click_photo(30, 30)
    assert "Nothing to merge" in bench.said[-1]
    assert bench.session.review.path.read_bytes() == before


def test_two_clicks_on_a_ruler_give_the_scale(bench, monkeypatch):
    given = []
    monkeypatch.setattr(
        bench.control._ahead, "look_again", lambda n, r: given.append(r)
    )
    bench.widget("length_mm").setValue(50)
    bench.click("click_ruler")
    bench.click_photo(100, 100)
    bench.click_photo(100, 500)
    (ruler,) = given
    assert isinstance(ruler, TwoPoints)
    assert ruler.length_mm == 50
    np.testing.assert_allclose(ruler.b_rc_px - ruler.a_rc_px, [0, 400], atol=4)


def test_a_typed_width_gives_the_scale(bench, monkeypatch):
    given = []
    monkeypatch.setattr(
        bench.control._ahead, "look_again", lambda n, r: given.append(r)
    )
    bench.widget("width_mm").setValue(230)
    bench.click("take_width")
    assert given == [TypedWidth(230.0)]


def test_widgets_do_not_pile_up_from_clump_to_clump(bench):
    """Ten visits, every other one to a clump of one tuber less."""
    bench.click("mend_merge")
    for name in ("T1", "T2"):
        bench.click_photo(*middle(name))
    few = len(part_names(bench.session))
    counts, seen = [], []
    for visit in range(10):
        bench.control.go_to_clump((visit + 1) % 2)
        bench.qtbot.waitUntil(lambda: bench.session is not None)
        bench.settle()
        seen.append(len(part_names(bench.session)))
        assert [b.text() for b in bench.panel.mend_page.group.buttons()] == part_names(
            bench.session
        )
        counts.append(len(bench.panel.window().findChildren(QWidget)))
    assert seen == [few + 1, few] * 5
    assert len(set(counts[1:])) == 1
