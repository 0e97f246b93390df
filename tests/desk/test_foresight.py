"""What an answer would do to the plan."""

from dataclasses import replace

import pytest
from records import decision, painted_record

from eyefind.desk.foresight import deciding_flags, effect_words, foresee, shape_of
from eyefind.desk.overlay import overlay_frame
from eyefind.desk.planning import plan_and_draw
from eyefind.sides.far import NOTHING


@pytest.mark.parametrize("says", ["confirmed", "rejected"])
def test_the_foreseen_effect_is_what_the_answer_then_does(rules, says):
    record = painted_record()
    seen = foresee(record, "singles", rules, "F2")
    other = replace(record, decisions=[decision("F2", says)])
    made = foresee(other, "singles", rules).plan
    line = {"confirmed": "Yes: ", "rejected": "No: "}[says]
    [told] = [text for text in seen.effect.splitlines() if text.startswith(line)]
    assert told.startswith(f"{line}{len(made.pieces)} piece")
    assert f" {len(made.cuts)} cut" in told


def test_the_plan_foreseen_is_that_of_the_words_that_stand(rules, plan):
    """To ask about a flag changes nothing."""
    seen = foresee(painted_record(), "singles", rules, "E1")
    assert shape_of(seen.plan) == shape_of(plan)
    assert seen.effect
    assert foresee(painted_record(), "singles", rules, "G9").effect == ""


def test_deciding_flags_stay_the_same_while_they_are_answered(rules, deciding):
    said = [decision(name, "not_sure") for name in deciding[:2]]
    again = deciding_flags(replace(painted_record(), decisions=said), "singles", rules)
    assert again == deciding


def test_equal_plans_have_no_effect(plan):
    assert effect_words(plan, plan) == "The plan stays the same either way."
    none = replace(plan, pieces=plan.pieces[:1], cuts=[], discards=[])
    assert effect_words(none, plan).startswith("Yes: 1 piece, 0 cuts.\nNo: ")


def test_the_plan_is_drawn_only_when_it_is_due(rules, ready):
    record = painted_record()
    frame = overlay_frame(ready, record)
    early, due = (
        plan_and_draw(record, "singles", rules, None, frame, due, None, NOTHING, 0.0)
        for due in (False, True)
    )
    assert shape_of(early.plan) == shape_of(due.plan)
    inked = [(planned.picture[..., 3] > 0).sum() for planned in (early, due)]
    assert 0 < inked[0] < inked[1]
