"""The judge of plans, on one sample whose truth is at hand."""

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest
from shapely import LineString

from eyefind.data import Cut, Plan
from eyefind.plan import make_plan
from eyefind.rules import load_rules
from eyefind.workshop.gather import true_scale
from eyefind.workshop.plans import judge_plan, true_flags
from eyefind.workshop.true_anatomy import true_anatomy, true_axis
from eyefind.workshop.truth import Truth

SAMPLE = Path(__file__).parents[2] / "sample_images/bed1-lantern-moth-2.truth.json"


@pytest.fixture(scope="module")
def truth() -> Truth:
    return msgspec.json.decode(SAMPLE.read_bytes(), type=Truth)


@pytest.fixture(scope="module")
def plan(truth) -> Plan:
    flags = true_flags(truth)
    said = {flag.id: "confirmed" for flag in flags}
    scale, rules = true_scale(truth), load_rules()
    return make_plan(true_anatomy(truth), flags, said, scale, "singles", rules)


def test_a_plan_on_the_truth_loses_nothing(truth, plan):
    outcome = judge_plan(truth, plan, 0, 0.0)
    assert outcome.eyes == len(truth.eyes)
    assert (outcome.eyes_lost, outcome.necks_cut) == (0, 0)
    assert outcome.valid == outcome.pieces


def test_a_cut_through_an_eye_and_a_neck_is_seen(truth, plan):
    eye = truth.eyes[0]
    tuber = next(t for t in truth.tubers if t.kind == "tuber" and t.neck_visible)
    path = np.array([(eye.row_px, eye.col_px), tuber.neck_rc_px])
    bad = replace(plan, cuts=[*plan.cuts, Cut(99, "cut", path, "knife", "why")])
    outcome = judge_plan(truth, bad, 0, 0.0)
    assert outcome.eyes_lost >= 1
    assert outcome.necks_cut >= 1


@pytest.mark.parametrize("share", [0.05, 0.2, 0.5, 0.95])
def test_a_cut_across_the_neck_counts_wherever_it_runs(truth, plan, share):
    """From the crown's rim to where the body is thickest."""
    tuber = next(t for t in truth.tubers if t.kind == "tuber" and t.neck_visible)
    axis_px, width_mm = true_axis(tuber, truth)
    way = LineString(axis_px[: int(np.argmax(width_mm)) + 1])
    before, behind = (
        np.array(way.interpolate(at, normalized=True).coords[0])
        for at in (share - 0.02, share + 0.02)
    )
    along = (behind - before) / np.hypot(*(behind - before))
    across = (
        np.array([-along[1], along[0]]) * 0.6 * tuber.max_diameter_mm * truth.px_per_mm
    )
    middle = (before + behind) / 2
    ends = np.stack([middle - across, middle + across])
    bad = replace(plan, cuts=[Cut(1, "cut", ends, "knife", "why")])
    assert judge_plan(truth, bad, 0, 0.0).necks_cut >= 1


def test_a_cut_through_the_thin_end_severs_no_neck(truth, plan):
    tuber = next(t for t in truth.tubers if t.kind == "tuber" and t.neck_visible)
    axis_px, _ = true_axis(tuber, truth)
    tip = axis_px[-2]
    bad = replace(plan, cuts=[Cut(1, "cut", np.stack([tip, tip + 2]), "knife", "why")])
    assert judge_plan(truth, bad, 0, 0.0).necks_cut == 0
