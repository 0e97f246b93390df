"""The judge of plans, on one sample whose truth is at hand."""

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from eyefind.data import Cut, Plan
from eyefind.plan import make_plan
from eyefind.rules import load_rules
from eyefind.workshop.gather import true_scale
from eyefind.workshop.plans import judge_plan, true_flags
from eyefind.workshop.true_anatomy import true_anatomy
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
