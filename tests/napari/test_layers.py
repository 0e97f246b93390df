"""Our layers among those of napari and of others."""

import numpy as np
import pytest
from qtpy.QtCore import Qt

from eyefind.desk.overlay import draw_marks

pytestmark = pytest.mark.gui


def test_a_point_deleted_in_the_layer_is_rejected(bench):
    layer = bench.viewer.layers["flags"]
    ids = list(layer.features["id"])
    bench.viewer.layers.selection.active = layer
    layer.selected_data = {ids.index("E2"), ids.index("F1")}
    bench.qtbot.keyClick(bench.canvas, Qt.Key.Key_Delete)
    assert bench.on_disk == {"E2": "rejected", "F1": "rejected"}
    bench.qtbot.wait(20)
    assert len(layer.data) == len(ids) - 2
    bench.key("U")
    assert bench.on_disk == {}
    assert sorted(layer.features["id"]) == sorted(ids)


def test_a_point_added_in_the_layer_is_an_eye(bench):
    bench.viewer.layers["flags"].add((640.0, 500.0))
    assert bench.on_disk == {"G1": "confirmed"}
    bench.qtbot.wait(20)
    assert "G1" in list(bench.viewer.layers["flags"].features["id"])


def test_a_point_moved_in_the_layer_moves_its_flag(bench):
    layer = bench.viewer.layers["flags"]
    place = list(layer.features["id"]).index("E3")
    data = layer.data.copy()
    data[place] = (650.0, 610.0)
    layer.data = data
    flag = bench.flag("E3")
    assert (flag.row_px, flag.col_px) == (650.0, 610.0)


def test_an_answered_no_leaves_the_points(bench):
    flag = bench.session.current.id
    bench.key("K")
    assert flag not in list(bench.viewer.layers["flags"].features["id"])


def test_foreign_layers_stay_as_they_are(bench):
    labels = np.zeros((1200, 1200), int)
    foreign = bench.viewer.add_labels(labels, name="of another plugin")
    points = bench.viewer.add_points([[5.0, 5.0]], name="points of mine")
    bench.viewer.layers.selection.active = foreign
    for key in ("J", "K", "Ctrl+J"):
        bench.key(key)
    assert bench.viewer.layers.selection.active is foreign
    points.add((9.0, 9.0))
    assert foreign in bench.viewer.layers
    assert len(points.data) == 2
    # Keys of napari's own still do its work.
    bench.key("E")
    assert str(foreign.mode) == "erase"


def test_a_layer_of_ours_that_was_removed_comes_back(bench):
    bench.viewer.layers.remove("marks")
    bench.viewer.layers.remove("flags")
    bench.key("J")
    assert {"marks", "flags"} <= {layer.name for layer in bench.viewer.layers}
    assert len(bench.on_disk) == 1


@pytest.mark.parametrize("key", ["Q", "Num+5"])
def test_a_tapped_key_hides_all_marks_until_it_is_tapped_again(bench, key):
    ours = [bench.viewer.layers[name] for name in ("marks", "flags", "plan")]
    bench.key(key)
    assert not any(layer.visible for layer in ours)
    assert bench.widget("natural").flag is None
    assert bench.viewer.layers["photo"].visible
    bench.key(key)
    assert all(layer.visible for layer in ours)
    assert bench.widget("natural").flag is not None


def test_a_held_key_hides_all_marks_while_it_is_down(bench):
    marks = bench.viewer.layers["marks"]
    bench.qtbot.keyPress(bench.canvas, Qt.Key.Key_Q)
    assert not marks.visible
    bench.qtbot.wait(450)
    bench.qtbot.keyRelease(bench.canvas, Qt.Key.Key_Q)
    assert marks.visible


def test_the_marks_of_a_clump_go_with_it_at_once(bench):
    marks, plan = bench.viewer.layers["marks"], bench.viewer.layers["plan"]
    bench.control.next_clump()
    assert bench.session is not None
    assert not marks.visible
    assert not plan.visible
    bench.settle()
    assert marks.visible
    assert plan.visible


def test_the_hide_button_switches(bench):
    bench.click("hide")
    assert not bench.viewer.layers["marks"].visible
    bench.click("hide")
    assert bench.viewer.layers["marks"].visible


def test_marks_differ_by_kind_and_state_without_their_colour(bench):
    """The same place, every kind and state: no two pictures are alike in grey."""
    session, frame = bench.session, bench.control.frame
    flag = session.flags[0]
    from dataclasses import replace
    from typing import get_args

    from eyefind.data import Kind

    seen = {}
    for kind in get_args(Kind):
        for state in (None, "confirmed", "not_sure", "rejected"):
            one = replace(flag, kind=kind)
            words = {} if state is None else {flag.id: state}
            record = replace(session.record, flags=[one])
            picture = draw_marks(frame, record, words, None)
            seen[kind, state] = (picture[..., 3] > 0).tobytes()
            ink = picture[picture[..., 3] > 0][:, :3]
            assert (ink == 0).all(axis=1).any(), "black outline"
            assert (ink == 255).all(axis=1).any(), "white outline"
    assert len(set(seen.values())) == len(seen)


def test_every_clump_is_seen_whole_as_soon_as_it_is_shown(window, qtbot, garden):
    viewer, panel = window
    for layer in [*viewer.layers]:  # As in a window that was just opened.
        viewer.layers.remove(layer)
    panel.control.open([garden])
    for index in range(3):
        panel.control.go_to_clump(index)
        qtbot.waitUntil(lambda: panel.control.session is not None, timeout=10_000)
        frame, canvas = panel.control.frame, viewer.window._qt_viewer.canvas.native
        zoom = viewer.scene.camera.zoom
        shares = (
            frame.height_px * zoom / canvas.height(),
            frame.width_px * zoom / canvas.width(),
        )
        assert max(shares) == pytest.approx(1.0, abs=0.02)
