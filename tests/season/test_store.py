"""Room in store: no box too full, one variety together, what to look at on top."""

from datetime import date, timedelta
from itertools import pairwise
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eyefind.season.garden import set_box, set_clumps
from eyefind.season.store import (
    FRESH_DAYS,
    ToStore,
    fill_boxes,
    keep_plan,
    litres_needed,
    pieces_to_store,
    plan_boxes,
    room_litres,
)
from eyefind.season.tables import Box, StoredPiece
from eyefind.season.winter import note_check

TODAY = date(2026, 11, 10)

stored = st.builds(
    ToStore,
    id=st.just(0),
    variety=st.sampled_from(["Owl Ledger", "Marrow Lamp", ""]),
    clump=st.sampled_from(["EYE-0001", "EYE-0002"]),
    letter=st.sampled_from("ABC"),
    litres=st.floats(0.1, 6),
    litres_sd=st.floats(0, 1),
    small=st.booleans(),
    doubtful=st.booleans(),
    fresh=st.booleans(),
)
boxes = st.lists(st.floats(1, 20), max_size=4).map(
    lambda sizes: [
        Box(id=number, season_id=1, name=str(number), litres=litres)
        for number, litres in enumerate(sizes, 1)
    ]
)


@given(st.lists(stored, max_size=12), boxes)
def test_every_piece_lies_in_one_box_and_no_box_is_too_full(pieces, boxes):
    plan = fill_boxes(pieces, boxes)
    inside = [piece for filled in plan.boxes for piece in filled.pieces]
    assert sorted(map(repr, [*inside, *plan.left])) == sorted(map(repr, pieces))
    for filled in plan.boxes:
        assert filled.litres <= filled.box.litres + 1e-9
    room = max((f.box.litres - f.litres for f in plan.boxes), default=0.0)
    assert all(piece.litres > room - 1e-9 for piece in plan.left)


@given(st.lists(stored, max_size=12))
def test_layers_go_from_bottom_to_top_one_variety_together(pieces):
    (filled,) = fill_boxes(pieces, [Box(id=1, season_id=1, name="A", litres=99)]).boxes
    order = [("bottom", "middle", "top").index(p.layer) for p in filled.pieces]
    assert order == sorted(order)
    runs = [(p.layer, p.variety) for p in filled.pieces]
    changes = sum(one != other for one, other in pairwise(runs))
    assert changes + 1 == len(set(runs)) or not runs


def piece(variety, litres, **what):
    what = {"small": False, "doubtful": False, "fresh": False, **what}
    return ToStore(0, variety, "EYE-0001", "A", litres, 0.1, **what)


@pytest.mark.parametrize(
    ("what", "layer"),
    [
        ({}, "middle"),
        ({"small": True}, "bottom"),
        ({"doubtful": True}, "top"),
        ({"fresh": True}, "top"),
        ({"small": True, "doubtful": True}, "top"),
    ],
)
def test_what_must_be_looked_at_lies_on_top(what, layer):
    assert piece("Owl Ledger", 1.0, **what).layer == layer


def test_a_variety_that_fits_a_box_is_not_torn_apart():
    pieces = [piece("Owl Ledger", 3.0)] * 3 + [piece("Marrow Lamp", 4.0)] * 2
    sizes = [Box(id=n, season_id=1, name=str(n), litres=10) for n in (1, 2)]
    plan = fill_boxes(pieces, sizes)
    assert plan.left == []
    assert [len({p.variety for p in f.pieces}) for f in plan.boxes] == [1, 1]


def test_a_torn_variety_gives_its_safe_pieces_room_first():
    doubtful, safe = piece("Owl Ledger", 6.0, doubtful=True), piece("Owl Ledger", 6.0)
    plan = fill_boxes([doubtful, safe], [Box(id=1, season_id=1, name="A", litres=10)])
    assert (plan.boxes[0].pieces, plan.left) == ([safe], [doubtful])


def test_room_comes_from_the_measured_volume_and_the_packing(
    ledger, season, rules, grow
):
    grow(1, "Owl Ledger", 0.9, volume_ml=400.0, volume_sd_ml=80.0)
    grow(2, "Owl Ledger", 0.9, 0.9, volume_ml=100.0, volume_sd_ml=20.0)
    whole, *divided = pieces_to_store(ledger, season, rules, TODAY)
    # 400 ml at 0.2 of the box, and 100 ml at 0.4 of it.
    assert rules.value("clump_packing_fraction") == 0.2
    assert rules.value("packing_fraction") == 0.4
    assert (whole.litres, whole.litres_sd) == pytest.approx((2.0, 0.4))
    assert [p.litres for p in divided] == pytest.approx([0.25, 0.25])
    assert litres_needed([400.0], rules) == pytest.approx(2.0)
    assert litres_needed([100.0, 100.0], rules) == pytest.approx(0.5)


def test_errors_of_the_scale_go_together():
    pieces = [piece("Owl Ledger", 1.0)] * 9
    (filled,) = fill_boxes(pieces, [Box(id=1, season_id=1, name="A", litres=9)]).boxes
    assert filled.litres_sd == pytest.approx(0.9)


def test_freshly_cut_and_thin_pieces_are_told(ledger, season, rules, grow):
    grow(1, "Owl Ledger", 0.9, 0.9)
    grow(2, "Owl Ledger", 0.9, 0.9, thickest_mm=rules.value("small_piece_mm") - 1)
    set_clumps(ledger, season, ["1"], {"cut_on": TODAY.isoformat()}, rules)
    late = TODAY + timedelta(days=FRESH_DAYS + 1)
    for day, layers in (
        (TODAY, ["top", "top", "bottom", "bottom"]),
        (late, ["middle", "middle", "bottom", "bottom"]),
    ):
        found = pieces_to_store(ledger, season, rules, day)
        assert [p.layer for p in found] == layers


def test_lost_pieces_need_no_room(ledger, season, rules, grow):
    note_check(ledger, grow(1, "Owl Ledger", 0.9), "lost", TODAY)
    assert pieces_to_store(ledger, season, rules, TODAY) == []


def test_without_a_box_the_room_is_not_known(ledger, season):
    assert room_litres(ledger, season) == inf
    set_box(ledger, season, "A", 40)
    set_box(ledger, season, "B", 25)
    assert room_litres(ledger, season) == 65


def test_a_kept_plan_can_be_taken_back(ledger, season, rules, grow):
    pieces = grow(1, "Owl Ledger", 0.9, 0.3)
    box = set_box(ledger, season, "A", 40)
    keep_plan(ledger, plan_boxes(ledger, season, rules, TODAY))
    rows = ledger.rows(StoredPiece)
    assert [(p.box_id, p.layer) for p in rows] == [(box.id, "middle"), (box.id, "top")]
    ledger.undo()
    assert ledger.rows(StoredPiece) == pieces
