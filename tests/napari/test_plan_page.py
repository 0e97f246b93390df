"""The plan in a real window: drawn live, its cuts moved under the rules, the sheet."""

import numpy as np
import pytest
from hands import act, ways
from painted import painted_clump
from shapely import LineString, Polygon

from eyefind.record import read_record

pytestmark = pytest.mark.gui
TUBERS = {tuber.id: tuber for tuber in painted_clump().anatomy.tubers}

NUDGES = [
    ("left", "Home", (0, -1)),
    ("right", "End", (0, 1)),
    ("up", "PgUp", (-1, 0)),
    ("down", "PgDown", (1, 0)),
]
"""Way, key, and mm down and to the right."""


def plan_on_disk(bench):
    return read_record(bench.session.review.path).plan


@pytest.fixture
def planned(bench):
    """All flags answered with yes, and the plan drawn."""
    while bench.session.open_flags:
        bench.key("J")
    bench.qtbot.waitUntil(lambda: bench.control.plan is not None)
    return bench


def picture(bench):
    return bench.viewer.layers["plan"].data


def test_the_plan_is_drawn_as_soon_as_the_deciding_flags_are_answered(bench):
    count = len(bench.session.deciding)
    for answered in range(count):
        assert bench.control.plan is None, answered
        assert f"{count - answered} more answer" in bench.widget("effect").text()
        bench.key("J")
        bench.qtbot.wait(30)
    bench.qtbot.waitUntil(lambda: bench.control.plan is not None)
    assert plan_on_disk(bench) is not None
    assert "pieces" in bench.widget("plan_summary").text()
    assert "Plan: " in bench.widget("effect").text()


def test_it_is_drawn_again_at_every_change_and_leaves_when_it_is_out_of_date(planned):
    first = picture(planned).copy()
    planned.key("G")
    planned.key("K")
    planned.qtbot.waitUntil(lambda: planned.control.plan is not None)
    second = picture(planned)
    assert second.shape == first.shape
    assert not np.array_equal(first, second)
    for _ in range(2):
        planned.key("U")
    assert planned.control.plan is None
    assert plan_on_disk(planned) is None


@pytest.mark.parametrize("style", ["whole", "stems", "singles", "least"])
def test_its_style_is_chosen(planned, hand, style):
    hand(f"style_{style}")
    planned.qtbot.waitUntil(lambda: planned.control.plan.style == style)
    assert plan_on_disk(planned).style == style


def test_fewer_pieces_are_asked_for_and_any_number_again(planned, hand):
    many = len(planned.control.plan.pieces)
    assert many > 1
    hand("piece_less")
    planned.qtbot.waitUntil(lambda: planned.control.plan.most_pieces == many - 1)
    assert len(plan_on_disk(planned).pieces) == many - 1
    hand("piece_more")
    planned.qtbot.waitUntil(lambda: planned.control.plan.most_pieces is None)
    assert len(plan_on_disk(planned).pieces) == many


def cut_to_move(bench):
    """Show a cut that can be moved both ways, and return it."""
    return bench.control.plan.cuts[bench.panel.plan_page.number - 1]


@pytest.mark.parametrize("by", ["key", "mouse"])
def test_the_end_of_a_cut_is_moved_by_key_or_mouse_and_kept(planned, by):
    before = cut_to_move(planned).path_px
    scale = planned.session.record.scale.px_per_mm
    planned.click("page_plan")
    moved = []
    for way, key, step in NUDGES:
        start = cut_to_move(planned).path_px[0]
        if by == "key":
            planned.key(key)
        else:
            planned.click(f"nudge_{way}")
        went_mm = (cut_to_move(planned).path_px[0] - start) / scale
        if planned.widget("verdict").text() == "Moved. It keeps all rules.":
            np.testing.assert_allclose(went_mm, step, atol=0.05)
            moved.append(way)
        else:
            assert planned.widget("verdict").text().startswith("Not moved: ")
            assert not went_mm.any()
    assert len(moved) > 1
    on_disk = plan_on_disk(planned).cuts[planned.panel.plan_page.number - 1].path_px
    np.testing.assert_allclose(on_disk, cut_to_move(planned).path_px, atol=0.06)
    np.testing.assert_allclose(on_disk[1:], before[1:], atol=0.06)


def test_what_became_of_a_move_is_in_sight_and_the_magnifier_there(planned):
    planned.control.set_settings(text_percent=200)
    planned.click("page_plan")
    planned.qtbot.wait(150)
    page, panes = planned.panel.plan_page, planned.panel.magnifier.panes
    for _, key, _ in NUDGES:
        planned.key(key)
        planned.qtbot.wait(20)
        assert page.verdict.text()
        assert page.verdict.visibleRegion().boundingRect() == page.verdict.rect()
        end = cut_to_move(planned).path_px[0]
        assert planned.panel.magnifier.centre == pytest.approx(tuple(end))
        np.testing.assert_array_equal(panes[0].path, cut_to_move(planned).path_px)
    planned.key("G")
    assert not len(panes[0].path)


def test_a_moved_cut_stays_so_till_an_answer_makes_another_plan(planned):
    planned.click("page_plan")
    for _, key, _ in NUDGES:
        planned.key(key)
        if planned.widget("verdict").text().startswith("Moved"):
            break
    moved = np.round(cut_to_move(planned).path_px, 1)

    def see_it_stayed():
        planned.qtbot.waitUntil(lambda: planned.control.plan is not None)
        for plan in (planned.control.plan, plan_on_disk(planned)):
            cut = plan.cuts[planned.panel.plan_page.number - 1]
            np.testing.assert_allclose(cut.path_px, moved, atol=0.1)

    planned.key("G")
    see_it_stayed()
    planned.control.set_settings(text_percent=200)
    planned.qtbot.wait(200)
    see_it_stayed()
    planned.control.open([planned.folder])
    planned.control.go_to_clump(0)
    planned.qtbot.waitUntil(lambda: planned.session is not None)
    see_it_stayed()


def outlines(plan):
    parts = [*plan.pieces, *plan.discards]
    return [np.round(part.outline_px, 1).tolist() for part in parts]


def test_outlines_follow_a_moved_cut_in_window_record_and_sheet(planned):
    made, first = planned.control.plan, sheet_pictures(planned)
    planned.click("page_plan")
    for _ in made.cuts:
        for key in ("Home", "PgUp"):
            planned.key(key)
        planned.key("Shift+PgDown")
    for _ in made.cuts:
        planned.key("Shift+PgUp")
    assert outlines(planned.control.plan) != outlines(made)
    assert outlines(plan_on_disk(planned)) == outlines(planned.control.plan)
    moved = sheet_pictures(planned)
    assert moved != first
    done = planned.control.job.sheet(planned.control.entries[0].photo_path)
    assert outlines(done.record.plan) == outlines(planned.control.plan)
    assert pictures(done.sheets) == moved, "as the command line draws it"
    for key in ("U", "Shift+U"):
        planned.key(key)
    planned.qtbot.waitUntil(lambda: planned.control.plan is not None)
    for plan in (planned.control.plan, plan_on_disk(planned)):
        assert outlines(plan) == outlines(made)
    assert sheet_pictures(planned) == first


def pictures(paths):
    return [path.read_bytes() for path in paths if path.suffix == ".png"]


def sheet_pictures(bench):
    made = pictures(bench.control.save_sheet())
    assert made
    return made


def test_keys_of_the_plan_are_left_alone_on_other_pages(planned):
    before = [cut.path_px.copy() for cut in planned.control.plan.cuts]
    keys = planned.widget("key_list")
    for number in (0, 1, 3, 4, 5):
        planned.panel.show_page(number)
        for key in ("PgUp", "PgDown", "Home", "End", "Shift+PgDown", "Shift+End"):
            planned.key(key)
    planned.panel.show_page(4)
    planned.key("End", keys)
    assert keys.currentRow() == keys.count() - 1
    assert (planned.panel.plan_page.number, planned.panel.plan_page.end) == (1, 0)
    for cut, path in zip(planned.control.plan.cuts, before, strict=True):
        np.testing.assert_array_equal(cut.path_px, path)


@pytest.mark.parametrize("way", ways("click_end", "Shift+Home"))
def test_the_end_is_put_to_where_the_pointer_is_by_key(planned, way):
    planned.click("page_plan")
    scale = planned.session.record.scale.px_per_mm
    start = cut_to_move(planned).path_px[0]
    act(planned, way)
    assert (
        "Cut 1: click the new place where the blade enters"
        in planned.widget("message").text()
    )
    words = planned.on_disk
    target = start + np.array([0, -0.5 * scale])
    planned.point(*target)
    planned.key("W")
    assert planned.on_disk == words, "no eye was added"
    assert planned.widget("verdict").text() == "Moved. It keeps all rules."
    np.testing.assert_allclose(cut_to_move(planned).path_px[0], target, atol=4)


def test_a_cut_through_another_tuber_is_refused_with_the_rule(planned):
    page = planned.panel.plan_page
    cut = cut_to_move(planned)
    crossed = {
        name
        for name, tuber in TUBERS.items()
        if LineString(cut.path_px).intersects(Polygon(tuber.outline_px))
    }
    leaves = {gone.belongs_to for gone in planned.control.plan.discards}
    staying = next(name for name in ("T1", "T2", "T3") if name not in crossed | leaves)
    axis = TUBERS[staying].axis_px
    on_disk = plan_on_disk(planned)
    planned.click("click_end")
    planned.click_photo(*axis[len(axis) // 2])
    assert page.verdict.text().startswith("Not moved: ")
    assert staying in page.verdict.text() or "eye" in page.verdict.text()
    np.testing.assert_array_equal(cut_to_move(planned).path_px, cut.path_px)
    assert len(plan_on_disk(planned).cuts) == len(on_disk.cuts)


@pytest.mark.parametrize(
    "turns",
    [
        [("key", "Shift+PgDown"), ("key", "Shift+End"), ("key", "Shift+PgUp")],
        [("click", "cut_after"), ("click", "other_end"), ("click", "cut_before")],
    ],
    ids=["key", "mouse"],
)
def test_cuts_and_ends_are_chosen_and_the_magnifier_goes_there(planned, turns):
    planned.click("page_plan")
    magnifier, (after, other_end, before) = planned.panel.magnifier, turns
    act(planned, after)
    assert planned.widget("cut").text().startswith("Cut 2 of")
    cut = planned.control.plan.cuts[1]
    assert magnifier.centre == pytest.approx(tuple(cut.path_px[0]))
    act(planned, other_end)
    assert "where the blade leaves" in planned.widget("cut").text()
    assert magnifier.centre == pytest.approx(tuple(cut.path_px[-1]))
    act(planned, before)
    assert planned.widget("cut").text().startswith("Cut 1 of")
    act(planned, other_end)


def test_the_keys_of_a_cut_stand_on_its_buttons_and_can_be_changed(planned):
    shown = {
        "nudge_up": "PgUp",
        "nudge_down": "PgDown",
        "nudge_left": "Home",
        "nudge_right": "End",
        "click_end": "Shift+Home",
        "other_end": "Shift+End",
        "cut_before": "Shift+PgUp",
        "cut_after": "Shift+PgDown",
    }
    for name, key in shown.items():
        assert planned.widget(name).text().endswith(f"\n{key}")
        assert planned.widget(name).accessibleName().endswith(f", key {key}")
    planned.control.set_settings(keys={"cut_after": ["F1"]})
    assert planned.widget("cut_after").text() == "Cut after\nF1"
    planned.click("page_plan")
    planned.key("F1")
    assert planned.widget("cut").text().startswith("Cut 2 of")
    planned.key("Shift+PgUp")


@pytest.mark.parametrize("way", ways("save_sheet", "F9"))
def test_the_sheet_is_saved(planned, way):
    act(planned, way)
    made = sorted(path.name for path in planned.folder.glob("bed 1*sheet*"))
    assert len(made) == 2, sorted(planned.folder.iterdir())
    assert "The sheet is saved" in planned.said[-1]


def test_the_sheet_is_shown_for_printing(planned, hand, monkeypatch):
    shown = []
    monkeypatch.setattr(
        "eyefind_napari.plan_page.QDesktopServices.openUrl", shown.append
    )
    hand("print_sheet")
    assert [url.toLocalFile().endswith(".pdf") for url in shown] == [True]


def test_without_a_plan_nothing_is_saved(bench):
    bench.key("F9")
    assert "no plan yet" in bench.said[-1]
    assert not list(bench.folder.glob("*.pdf"))
