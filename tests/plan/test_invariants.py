"""No plan cuts an eye or a neck, whatever the clump, the flags and the answers."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plan.clumps import SCALE, answers, messy_clumps, tidy_clumps
from plan.oracle import check, safe_pieces

from eyefind.plan import make_plan
from eyefind.rules import load_rules

RULES = load_rules()
STYLES = ["whole", "stems", "singles"]
QUIET = settings(
    deadline=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@QUIET
@given(st.data(), tidy_clumps(), st.sampled_from(STYLES))
def test_every_plan_keeps_the_rules(data, clump, style):
    said = data.draw(answers(clump.flags))
    plan = make_plan(clump.anatomy, clump.flags, said, SCALE, style, RULES)
    check(clump.anatomy, clump.flags, said, SCALE, RULES, plan)


@QUIET
@given(st.data(), messy_clumps(), st.sampled_from(STYLES))
def test_untidy_anatomy_gives_an_honest_plan(data, clump, style):
    said = data.draw(answers(clump.flags))
    plan = make_plan(clump.anatomy, clump.flags, said, SCALE, style, RULES)
    check(clump.anatomy, clump.flags, said, SCALE, RULES, plan)
    assert plan.pieces
    assert plan.warnings


@QUIET
@given(st.data(), tidy_clumps(), st.sampled_from(["stems", "singles"]))
def test_one_more_confirmed_eye_never_costs_a_safe_piece(data, clump, style):
    """Holds for eyes that counted before; a rejected one was no obstacle before."""
    said = data.draw(answers(clump.flags))
    open_eyes = [
        flag.id
        for flag in clump.flags
        if flag.kind == "eye" and said.get(flag.id) in (None, "not_sure")
    ]
    if not open_eyes:
        return
    eye = data.draw(st.sampled_from(open_eyes))
    more = {**said, eye: "confirmed"}
    before = make_plan(clump.anatomy, clump.flags, said, SCALE, style, RULES)
    after = make_plan(clump.anatomy, clump.flags, more, SCALE, style, RULES)
    if any(eye in warning for warning in before.warnings + after.warnings):
        return  # it lies on a part that was to come off
    assert safe_pieces(after, RULES) >= safe_pieces(before, RULES)
