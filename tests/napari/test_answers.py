"""Answering flags in a real window, by key and by mouse."""

import pytest
from hands import act, ways
from qtpy.QtCore import Qt

from eyefind.record import read_record
from eyefind.review import notes_in_force

pytestmark = pytest.mark.gui

ANSWERS = [
    ("confirm", "J", "Num+1", "confirmed"),
    ("reject", "K", "Num+2", "rejected"),
    ("not_sure", "N", "Num+3", "not_sure"),
]


@pytest.mark.parametrize(
    ("way", "says"),
    [
        pytest.param(way, says, id=f"{says}-{way[1]}")
        for name, letter, pad, says in ANSWERS
        for way in (("key", letter), ("key", pad), ("click", name))
    ],
)
def test_an_answer_is_on_disk_and_the_next_flag_shown(bench, way, says):
    first = bench.session.current
    act(bench, way)
    assert bench.on_disk == {first.id: says}
    assert bench.session.current.id != first.id
    assert bench.session.place == 1
    assert "Flag 2 of 6, not answered" in bench.widget("place").text()


def test_flags_that_change_the_plan_come_first_then_the_likeliest(bench):
    session = bench.session
    order = [(f.id in session.deciding, f.likelihood) for f in session.flags]
    assert order == sorted(order, reverse=True)
    assert bench.widget("question").text() == "Is this an eye?"


@pytest.mark.parametrize("way", ways("undo", "U", "Num+0"))
def test_take_back(bench, way):
    first = bench.session.current.id
    bench.key("J")
    act(bench, way)
    assert bench.on_disk == {}
    assert bench.session.current.id == first


@pytest.mark.parametrize("way", ways("redo", "Shift+U", "Num+."))
def test_bring_back(bench, way):
    first = bench.session.current.id
    bench.key("K")
    bench.key("U")
    act(bench, way)
    assert bench.on_disk == {first: "rejected"}


def test_undo_and_redo_without_end(bench):
    for key in "JKNJKN":
        bench.key(key)
    answered = bench.on_disk
    assert len(answered) == 6
    for _ in range(8):
        bench.key("U")
    assert bench.on_disk == {}
    assert bench.said[-1] == "There is nothing to take back."
    for _ in range(8):
        bench.key("Shift+U")
    assert bench.on_disk == answered
    assert bench.said[-1] == "There is nothing to bring back."


@pytest.mark.parametrize("way", ways("ahead", "H", "Num+6"))
def test_flag_after(bench, way):
    act(bench, way)
    assert bench.session.place == 1
    assert bench.on_disk == {}


@pytest.mark.parametrize("way", ways("back", "G", "Num+4"))
def test_flag_before(bench, way):
    bench.key("H")
    bench.key("H")
    act(bench, way)
    assert bench.session.place == 1


@pytest.mark.parametrize("way", ways("accept_rest", "F4", "Shift+K"))
def test_accept_all_the_rest_says_how_many_and_is_one_undo(bench, way):
    bench.control.do(lambda session: session.go_to("F1"))
    bench.key("K")
    assert "Accept the rest from 80 %: 3" in bench.widget("accept_rest").text()
    act(bench, way)
    assert bench.on_disk == {
        "F1": "rejected",
        "E1": "confirmed",
        "E2": "confirmed",
        "F2": "confirmed",
    }
    assert "3 flags accepted" in bench.said[-1]
    bench.key("U")
    assert bench.on_disk == {"F1": "rejected"}
    assert bench.said[-1] == "bed 1, 1 of 3.", "what was said holds no more"


def test_where_none_is_so_likely_nothing_is_accepted(bench):
    bench.control.set_settings(accept_from=100)
    bench.key("F4")
    assert bench.said[-1].startswith("No open flag is 100 % likely or more")
    assert not bench.on_disk


@pytest.mark.parametrize("key", ["J", "H", "U", "F4", "W"])
def test_a_key_brings_the_question_into_sight(bench, key):
    """Tab may have scrolled the page on its way to the magnifier."""
    bench.control.set_settings(text_percent=200)
    bench.key("K")
    bench.point(300, 300)
    bench.qtbot.wait(150)
    bar = bench.area(0).verticalScrollBar()
    bar.setValue(bar.maximum())
    assert bar.value() > 0
    bench.key(key)
    assert bench.widget("question").visibleRegion().boundingRect().height() > 0
    assert bar.value() == 0


def test_the_panel_tells_kind_chance_reasons_tuber_and_effect(bench):
    bench.control.do(lambda session: session.go_to("F1"))
    bench.qtbot.waitUntil(lambda: bench.control.effect != "")
    assert bench.widget("question").text() == "Is T5 the spent parent?"
    assert bench.widget("chance").text() == "Almost surely, 9 in 10."
    assert bench.widget("chance_bar").chance == pytest.approx(0.9)
    assert "30 L* darker than the other tubers" in bench.widget("reasons").text()
    assert "On tuber T5" in bench.widget("reasons").text()
    assert "Yes: 2 pieces, 4 cuts, T5, T6 leave.\nNo: " in bench.widget("effect").text()


def test_a_note_is_kept_and_its_letters_answer_nothing(bench):
    flag = bench.session.current.id
    bench.panel.show_page(1)
    note = bench.widget("note")
    note.setFocus()
    bench.qtbot.waitUntil(note.hasFocus)
    bench.qtbot.keyClicks(note, "junk")
    bench.qtbot.keyClick(note, Qt.Key.Key_Return)
    record = read_record(bench.session.review.path)
    assert notes_in_force(record.decisions) == {flag: "junk"}
    assert bench.on_disk == {}
    assert "Your note: junk" in bench.widget("reasons").text()


def test_reopened_it_goes_on_at_the_same_flag(bench):
    for key in "JK":
        bench.key(key)
    at, order = bench.session.current.id, [flag.id for flag in bench.session.flags]
    bench.control.open([bench.folder])
    bench.qtbot.waitUntil(lambda: bench.session is not None, timeout=10_000)
    assert bench.session.current.id == at
    assert [flag.id for flag in bench.session.flags] == order
