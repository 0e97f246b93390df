"""The plan in a real window: drawn live, its cuts moved under the rules, the sheet."""

import numpy as np
import pytest
from hands import act, ways
from painted import painted_clump
from shapely import LineString, Polygon

from eyefind.record import read_record

pytestmark = pytest.mark.gui
TUBERS = {tuber.id: tuber for tuber in painted_clump().anatomy.tubers}


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
def test_its_style_is_chosen(planned, style):
    planned.click(f"style_{style}")
    planned.qtbot.waitUntil(lambda: planned.control.plan.style == style)
    assert plan_on_disk(planned).style == style


def test_fewer_pieces_are_asked_for_and_any_number_again(planned):
    many = len(planned.control.plan.pieces)
    assert many > 1
    planned.click("piece_less")
    planned.qtbot.waitUntil(lambda: planned.control.plan.most_pieces == many - 1)
    assert len(plan_on_disk(planned).pieces) == many - 1
    planned.click("piece_more")
    planned.qtbot.waitUntil(lambda: planned.control.plan.most_pieces is None)
    assert len(plan_on_disk(planned).pieces) == many


def cut_to_move(bench):
    """Show a cut that can be moved both ways, and return it."""
    return bench.control.plan.cuts[bench.panel.plan_page.number - 1]


def test_the_end_of_a_cut_is_moved_by_key_and_kept(planned):
    before = cut_to_move(planned).path_px
    scale = planned.session.record.scale.px_per_mm
    moved = []
    for way, step in (("left", (0, -1)), ("right", (0, 1))):
        button = planned.widget(f"nudge_{way}")
        planned.panel.show_page(2)
        button.setFocus()
        start = cut_to_move(planned).path_px[0]
        planned.key("Space", button)
        if planned.widget("verdict").text() == "Moved. It keeps all rules.":
            way_px = cut_to_move(planned).path_px[0] - start
            np.testing.assert_allclose(way_px / scale, step, atol=0.05)
            moved.append(way)
    assert moved
    on_disk = plan_on_disk(planned).cuts[planned.panel.plan_page.number - 1].path_px
    np.testing.assert_allclose(on_disk, cut_to_move(planned).path_px, atol=0.06)
    np.testing.assert_allclose(on_disk[1:], before[1:], atol=0.06)


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


def test_cuts_and_ends_are_chosen_and_the_magnifier_goes_there(planned):
    magnifier = planned.panel.magnifier
    planned.click("cut_after")
    assert planned.widget("cut").text().startswith("Cut 2 of")
    cut = planned.control.plan.cuts[1]
    assert magnifier.centre == pytest.approx(tuple(cut.path_px[0]))
    planned.click("other_end")
    assert "where it leaves" in planned.widget("cut").text()
    assert magnifier.centre == pytest.approx(tuple(cut.path_px[-1]))
    planned.click("cut_before")
    assert planned.widget("cut").text().startswith("Cut 1 of")


@pytest.mark.parametrize("way", ways("save_sheet", "F9"))
def test_the_sheet_is_saved(planned, way):
    act(planned, way)
    made = sorted(path.name for path in planned.folder.glob("bed 1*sheet*"))
    assert len(made) == 2, sorted(planned.folder.iterdir())
    assert "The sheet is saved" in planned.said[-1]


def test_the_sheet_is_shown_for_printing(planned, monkeypatch):
    shown = []
    monkeypatch.setattr(
        "eyefind_napari.plan_page.QDesktopServices.openUrl", shown.append
    )
    planned.click("print_sheet")
    assert [url.toLocalFile().endswith(".pdf") for url in shown] == [True]


def test_without_a_plan_nothing_is_saved(bench):
    bench.key("F9")
    assert "no plan yet" in bench.said[-1]
    assert not list(bench.folder.glob("*.pdf"))
