"""Outlines follow a moved cut, and nothing else changes by it."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st
from plan.clumps import SCALE, answers, messy_clumps, tidy_clumps
from records import painted_record
from shapely import LineString, Point

from eyefind.data import Cut, Plan, Record
from eyefind.plan import make_plan
from eyefind.plan.follow import followed
from eyefind.plan.nudge import end_moved, keep_moved, moved_cut, with_moved
from eyefind.plan.parts import read_clump
from eyefind.plan.shapes import polygon
from eyefind.plan.standing import Eye
from eyefind.record.coding import from_fields, to_fields
from eyefind.rules import load_rules

RULES = load_rules()
PX = SCALE.px_per_mm
QUIET = settings(
    deadline=None,
    max_examples=60,
    suppress_health_check=[
        HealthCheck.too_slow,
        HealthCheck.data_too_large,
        HealthCheck.filter_too_much,
    ],
)
steps = st.floats(-6.0, 6.0)
ends = st.sampled_from([0, -1])


def parts(plan):
    return [*plan.pieces, *plan.discards]


def shapes(plan):
    return [polygon(part.outline_px) for part in parts(plan)]


def overlap_px2(plan):
    return sum(a.intersection(b).area for a, b in combinations(shapes(plan), 2))


def hang_together(plan, blade_mm, least_mm2):
    """Pairs of parts that a blade of this width, along all cuts, leaves in one.

    A part counts that has at least so much of what hangs together.
    """
    blade = shapely.union_all([LineString(cut.path_px) for cut in plan.cuts])
    flesh = shapely.union_all(shapes(plan)).difference(blade.buffer(blade_mm / 2 * PX))
    pairs = set()
    for lump in shapely.get_parts(flesh):
        inside = [
            k
            for k, shape in enumerate(shapes(plan))
            if shape.intersection(lump).area > least_mm2 * PX**2
        ]
        pairs |= set(combinations(inside, 2))
    return pairs


def moved(plan, record, said, which, end, down, right):
    """The plan with an end of a cut moved by mm, and the reason why not."""
    cut = plan.cuts[which % len(plan.cuts)]
    row, col = cut.path_px[end]
    new = moved_cut(cut, end, (row + down * PX, col + right * PX))
    plan, refused = with_moved(plan, [new], record, said, RULES)
    return plan, refused.get(new.number)


def record_of(clump):
    return replace(
        painted_record(), anatomy=clump.anatomy, flags=clump.flags, scale=SCALE
    )


@QUIET
@given(st.data(), tidy_clumps(), st.integers(0, 99), ends, steps, steps)
def test_only_the_border_moves(data, clump, which, end, down, right):
    said = data.draw(answers(clump.flags))
    record = record_of(clump)
    made = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", RULES)
    assume(made.cuts)
    plan, refused = moved(made, record, said, which, end, down, right)
    event("refused" if refused else "moved")
    if refused:
        assert plan is made
        return
    # Rounding to the record's tenth of a pixel, and a bridge of 1.5 px, are no overlap.
    assert overlap_px2(plan) <= overlap_px2(made) + 0.3 * PX**2
    before, after = (shapely.union_all(shapes(one)) for one in (made, plan))
    stub = 3.0 * PX  # A stub that belonged to nothing may come to a piece.
    assert before.symmetric_difference(after).area < 0.002 * before.area + stub**2
    # What just so hung together before may hang together a little more clearly now.
    assert hang_together(plan, 1.6, 8.0) <= hang_together(made, 0.8, 4.0)
    for old, new, shape in zip(parts(made), parts(plan), shapes(plan), strict=True):
        assert same(new, old)
        assert not shape.is_empty
    holds(made, plan, record)


def same(new, old):
    """Whether two parts differ in nothing but their outlines."""
    fields = [vars(replace(part, outline_px=None)) for part in (new, old)]
    return fields[0] == fields[1]


def holds(made, plan, record):
    """No eye and no tuber lies in another outline than before, but for its edge."""
    names = {eye for piece in made.pieces for eye in piece.eyes}
    for flag in record.flags:
        if flag.id in names:
            at = Point(flag.row_px, flag.col_px)
            held = [
                {k for k, s in enumerate(shapes(p)) if s.covers(at)}
                for p in (made, plan)
            ]
            assert held[0] == held[1], flag.id
    for tuber in record.anatomy.tubers:
        body = polygon(tuber.outline_px)
        before, after = (
            [shape.intersection(body).area for shape in shapes(one)]
            for one in (made, plan)
        )
        # One that is cut back lies in two outlines, by halves if need be.
        if max(before) > 0.7 * sum(before):
            assert np.argmax(before) == np.argmax(after), tuber.id


@QUIET
@given(st.data(), messy_clumps(), st.integers(0, 99), ends, steps, steps)
def test_untidy_anatomy_breaks_nothing(data, clump, which, end, down, right):
    said = data.draw(answers(clump.flags))
    made = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", RULES)
    assume(made.cuts)
    plan, refused = moved(made, record_of(clump), said, which, end, down, right)
    assert (plan is made) == (refused is not None)


@pytest.fixture(scope="module")
def planned() -> Record:
    """The record of the painted clump with its plan, every flag confirmed."""
    record = painted_record()
    said = {flag.id: "confirmed" for flag in record.flags}
    made = make_plan(record.anatomy, record.flags, said, record.scale, "singles", RULES)
    return replace(record, plan=made)


SAID = {flag.id: "confirmed" for flag in painted_record().flags}


def step(record: Record, cut: Cut, end: int, down: float, right: float) -> Cut:
    scale = record.scale.px_per_mm
    row, col = cut.path_px[end]
    return moved_cut(cut, end, (row + down * scale, col + right * scale))


def accepted(record: Record, purpose: str) -> tuple[Plan, Cut]:
    """A plan with an end of a cut of this purpose moved by two millimetres."""
    for cut in record.plan.cuts:
        for end in (0, -1):
            for way in ((2, 0), (-2, 0), (0, 2), (0, -2)):
                new = step(record, cut, end, *way)
                plan, refused = with_moved(record.plan, [new], record, SAID, RULES)
                changed = [
                    not np.array_equal(a.outline_px, b.outline_px)
                    for a, b in zip(parts(record.plan), parts(plan), strict=True)
                ]
                if cut.purpose == purpose and not refused and sum(changed) >= 2:
                    return plan, new
    raise AssertionError(f"no cut to {purpose} can be moved")


@pytest.mark.parametrize(
    "purpose", ["halve the crown", "split off a piece", "shorten the stem"]
)
def test_the_border_runs_along_the_moved_cut(planned, purpose):
    plan, new = accepted(planned, purpose)
    old = next(cut for cut in planned.plan.cuts if cut.number == new.number)
    path, was = LineString(new.path_px), LineString(old.path_px)
    for shape in shapes(plan):
        assert path.intersection(shape.buffer(-1.0)).length < 2.0
    inside = [was.intersection(shape.buffer(-1.0)).length for shape in shapes(plan)]
    assert max(inside) > 5.0, "what lay beside the planned cut lies within one now"


def test_moved_back_the_outlines_are_as_made(planned):
    plan, new = accepted(planned, "halve the crown")
    old = next(cut for cut in planned.plan.cuts if cut.number == new.number)
    back = replace(new, path_px=np.round(old.path_px, 1))
    again = end_moved(planned.plan, plan, back, planned, SAID, RULES)
    for one, other in zip(parts(planned.plan), parts(again), strict=True):
        np.testing.assert_allclose(one.outline_px, other.outline_px, atol=0.1)


def test_the_order_of_the_moves_does_not_count(planned):
    _, first = accepted(planned, "halve the crown")
    _, second = accepted(planned, "take out the spent parent")
    plans = []
    for one, other in ((first, second), (second, first)):
        plan = end_moved(planned.plan, planned.plan, one, planned, SAID, RULES)
        plans.append(end_moved(planned.plan, plan, other, planned, SAID, RULES))
    assert to_fields(plans[0]) == to_fields(plans[1])
    assert [cut.moved for cut in plans[0].cuts].count(True) == 2


def test_made_anew_from_the_record_the_outlines_are_the_same(planned):
    plan, _ = accepted(planned, "halve the crown")
    kept = from_fields(to_fields(plan), Plan)
    again = keep_moved(planned.plan, kept, planned, SAID, RULES)
    assert to_fields(again) == to_fields(plan)


def refusal(planned, cut, end, place, said=SAID):
    new = moved_cut(cut, end, tuple(place))
    then = end_moved(planned.plan, planned.plan, new, planned, said, RULES)
    assert isinstance(then, str)
    return then


def test_a_cut_that_stops_inside_is_refused(planned):
    cut = next(cut for cut in planned.plan.cuts if cut.purpose == "halve the crown")
    halfway = (cut.path_px[0] + 2 * cut.path_px[1]) / 3
    told = refusal(planned, cut, 0, halfway)
    assert told == "it would stop inside what it is to part"


def test_a_later_cut_that_would_stop_inside_is_named(planned):
    cut = next(cut for cut in planned.plan.cuts if cut.purpose == "halve the crown")
    straight = replace(cut, path_px=cut.path_px[[0, -1]])
    cuts = [straight if old is cut else old for old in planned.plan.cuts]
    record = replace(planned, plan=replace(planned.plan, cuts=cuts))
    off = cut.path_px[1] - straight.path_px[0]
    assert np.hypot(*off) > 50
    clump = read_clump(record.anatomy, record.scale)
    told = followed(record.plan, step(record, straight, 0, 12, 0), clump, [])
    assert isinstance(told, str)


def test_an_eye_that_would_come_to_another_piece_is_named(planned):
    plan, clump = planned.plan, read_clump(planned.anatomy, planned.scale)
    cut = plan.cuts[4]
    rim, hub = cut.path_px
    place = Point(rim + (hub - rim) / 3 + np.array([-8.0, 12.0]))
    (holder,) = (k for k, shape in enumerate(shapes(plan)) if shape.covers(place))
    assert plan.pieces[holder].letter == "A"
    beyond = moved_cut(cut, 0, tuple(rim + np.array([-45.0, 45.0])))
    eyes = [Eye("E9", place, 0.0, 0.9, False, "T4")]
    told = followed(plan, beyond, clump, eyes)
    assert told == "eye E9 would come to piece B; that is another plan"
    assert "E9" not in str(followed(plan, beyond, clump, []))


def test_a_tuber_that_would_come_to_another_piece_is_named(planned):
    plan, clump = planned.plan, read_clump(planned.anatomy, planned.scale)
    cut = plan.cuts[4]
    rim, hub = cut.path_px
    long = replace(cut, path_px=np.array([hub + 6 * (rim - hub), hub]))
    cuts = [long if old is cut else old for old in plan.cuts]
    beyond = moved_cut(long, 0, (hub[0], hub[1] + 600.0))
    told = followed(replace(plan, cuts=cuts), beyond, clump, [])
    assert told == "T4 would come to piece B; that is another plan"
