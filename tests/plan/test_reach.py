"""Tools: each gets at its cut from outside, or the step says what lies in the way."""

import re
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan.clumps import (
    PPM,
    SCALE,
    answers,
    gather,
    make_crown,
    make_eye,
    make_flag,
    make_tuber,
    on_rim,
    round_clump,
    tidy_clumps,
)
from shapely import LineString, Polygon, box

from eyefind.plan import make_plan
from eyefind.plan.drafts import Draft
from eyefind.plan.how import How
from eyefind.plan.reach import in_reach, make_reach
from eyefind.plan.shapes import polygon
from eyefind.plan.standing import standing_eyes
from eyefind.rules import load_rules

RULES = load_rules()
WIDE_MM = {
    "fine-point snips": RULES.value("snips_width_mm"),
    "secateurs": RULES.value("secateurs_width_mm"),
    "knife": RULES.value("knife_thickness_mm"),
}
SPLITS = ("part the stems", "halve the crown", "split off a piece")
TUBER = re.compile(r"\bT[0-9]+\b")


def way_of(cut) -> Polygon:
    """Return where the tool comes along, drawn corner by corner."""
    first, second = cut.path_px[:2]
    along = (first - second) / np.hypot(*(first - second))
    across = np.array([-along[1], along[0]]) * WIDE_MM[cut.tool] / 2 * PPM
    far = first + along * RULES.value("approach_mm") * PPM
    return Polygon([first + across, far + across, far - across, first - across])


def names_held(cut) -> str:
    """Return the letters of the pieces that a split parts."""
    return "".join(re.findall(r"\b[A-Z]\b", cut.hold))


def check_ways(anatomy, plan):
    """Follow the steps on a bench of outlines; nothing there may reach into a way."""
    there = {tuber.id: polygon(tuber.outline_px) for tuber in anatomy.tubers}
    off = {d.belongs_to: d for d in plan.discards if d.what.startswith("T")}
    seen = 0
    for cut in plan.cuts:
        path = LineString(cut.path_px)
        if cut.purpose in SPLITS:
            pieces = [p for p in plan.pieces if p.letter in names_held(cut)]
            here = {t for piece in pieces for t in piece.tubers}
            own = set()
        else:
            here = set(there)
            own = set(TUBER.findall(cut.enter.partition(", ")[0]))
        for name, shape in there.items():
            bare = shape.buffer(-1.0)
            if name in here - own and not re.search("from above|Lift", cut.enter):
                # What hangs on what is cut goes with it.
                host = next(t.attached_to for t in anatomy.tubers if t.id == name)
                if host in own:
                    continue
                assert not way_of(cut).buffer(-0.5).intersects(bare), (cut, name)
                assert not path.intersects(bare), (cut, name)
                seen += 1
        for name in own & set(off):
            along = {
                d.belongs_to for d in plan.discards if f"hangs on {name}," in d.why
            }
            there = {k: v for k, v in there.items() if k not in {name, *along}}
    return seen


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_no_tool_passes_through_what_still_lies_there(data):
    clump = data.draw(tidy_clumps(most=9))
    said = data.draw(answers(clump.flags))
    plan = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", RULES)
    check_ways(clump.anatomy, plan)


def test_the_ways_of_round_clumps_are_free_or_told():
    """The check looks at something, and both ways of a split occur."""
    rng = np.random.default_rng(5)
    seen, starts = 0, []
    for number in range(4, 13):
        angles = (np.arange(number) + rng.uniform(-0.3, 0.3, number)) * 360 / number
        clump = round_clump([float(angle) for angle in angles])
        said = {flag.id: "confirmed" for flag in clump.flags}
        plan = make_plan(clump.anatomy, clump.flags, said, SCALE, "singles", RULES)
        seen += check_ways(clump.anatomy, plan)
        starts += [cut.enter.split()[1] for cut in plan.cuts]
    assert seen > 100
    assert {"between", "at"} <= set(starts)


def draft(path, tools, thick_mm=5.0, own=(), frees=()):
    way = How("Hold it.", "Enter here.", "Stop there.")
    line = LineString(np.array(path) * PPM)
    return Draft("cut", line, tools[0], "why.", way, tools, thick_mm * PPM, own, frees)


ALL = ("fine-point snips", "secateurs", "knife")
STROKE = [(0.0, 0.0), (0.0, 8.0)]


def block(top, left, bottom, right):
    """Return a body, mm."""
    return box(top * PPM, left * PPM, bottom * PPM, right * PPM)


def placed(drafts, there):
    return in_reach(drafts, there, make_reach([], RULES, PPM))


@pytest.mark.parametrize(
    ("thick_mm", "tool"), [(9.0, ALL[0]), (11.0, ALL[1]), (26.0, ALL[2])]
)
def test_the_smallest_tool_that_is_strong_enough_is_taken(thick_mm, tool):
    (done,) = placed([draft(STROKE, ALL, thick_mm)], {})
    assert done.tool == tool


def test_a_long_cut_is_not_made_with_snips():
    (done,) = placed([draft([(0.0, 0.0), (0.0, 40.0)], ALL)], {})
    assert done.tool == "secateurs"


def test_a_blocked_end_turns_the_cut_round():
    (done,) = placed([draft(STROKE, ALL)], {"T1": block(-5, -9, 5, -4)})
    assert done.path.coords[0] == (0.0, 8.0 * PPM)
    assert done.how.enter == "Enter here."


def test_where_only_a_knife_fits_it_is_a_knife():
    """Bodies on both ends leave a slit of 3 mm: less than snips need."""
    there = {
        f"T{k}": block(top, left, top + 4.5, left + 6)
        for k, (top, left) in enumerate(product((1.5, -6.0), (-9.0, 11.0)))
    }
    (done,) = placed([draft(STROKE, ALL)], there)
    assert done.tool == "knife"
    assert "from above" not in done.how.enter


def test_a_step_that_nothing_reaches_says_what_lies_in_the_way():
    there = {"T1": block(-5, -9, 5, -4), "T2": block(-5, 12, 5, 17)}
    (done,) = placed([draft(STROKE, ALL)], there)
    assert re.fullmatch(
        "Enter here, from above: T[12] lies in the way.", done.how.enter
    )


def test_a_cut_waits_for_one_that_frees_its_way():
    there = {"T1": block(-5, -9, 5, -4), "T2": block(-5, 12, 5, 17)}
    first = draft(STROKE, ALL)
    second = draft([(20.0, 12.0), (20.0, 20.0)], ALL, own=("T2",), frees=("T2",))
    one, other = placed([first, second], there)
    assert one.own == ("T2",)
    assert other.path.coords[0] == (0.0, 8.0 * PPM)
    assert "from above" not in other.how.enter


def test_no_way_comes_too_near_to_an_eye():
    tuber = make_tuber("T1", on_rim(90, 24, 24, 0.97), 90.0)
    flags = [make_eye("E1", on_rim(90, 24, 24, 0.75), "T1")]
    clump = gather(make_crown(24, 24), [], [tuber], flags)
    reach = make_reach([], RULES, PPM)
    plan = make_plan(clump.anatomy, clump.flags, {}, SCALE, "singles", RULES)
    assert plan.cuts == []
    (eye,) = standing_eyes(flags, {}, SCALE, RULES)
    near = replace(reach, eyes=[eye])
    row, col = eye.place.x, eye.place.y
    path = LineString([(row, col + 6 * PPM), (row, col + 12 * PPM)])
    assert near.way_in(path, "knife", {}).blocked_by == ("E1",)
    assert near.way(path, "knife", {}).blocked_by == ()


@pytest.mark.parametrize("slant", [120.0, 150.0])
def test_what_lies_across_another_cut_leaves_before_it_or_is_lifted(slant):
    """T5, which leaves, lies over the neck of T2, which leaves too."""
    angles = [0.0, 90.0, 180.0, 270.0]
    clump = round_clump(angles)
    one = clump.anatomy.tubers[1]
    over = make_tuber("T5", on_rim(60, 24, 24, 0.97), slant)
    tubers = [*clump.anatomy.tubers, over]
    flags = [
        *clump.flags,
        make_flag("F1", "spent_parent", one),
        make_flag("F2", "broken_neck", over),
    ]
    again = gather(clump.anatomy.crown_outline_px, clump.anatomy.stems, tubers, flags)
    said = {flag.id: "confirmed" for flag in flags}
    plan = make_plan(again.anatomy, flags, said, SCALE, "whole", RULES)
    check_ways(again.anatomy, plan)
    (late,) = (cut for cut in plan.cuts if "across T2" in cut.enter)
    (early,) = (cut for cut in plan.cuts if "across T5" in cut.enter)
    lifted = "Lift T5 aside first." in late.enter
    assert lifted == (slant == 150.0)
    assert lifted or early.number < late.number
