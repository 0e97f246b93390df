"""docs/plans.md says what the rules and the code say."""

from pathlib import Path

from eyefind.plan import words
from eyefind.rules import load_rules

PAGE = Path(__file__).parents[2] / "docs" / "plans.md"
RULES_OF_PLANS = [
    "stem_stub_mm",
    "single_stub_mm",
    "stub_slack_mm",
    "eye_clearance_mm",
    "neck_margin_mm",
    "safe_eye_chance",
    "removal_likelihood",
    "soft_margin_mm",
    "snips_reach_mm",
    "secateurs_reach_mm",
    "snips_width_mm",
    "secateurs_width_mm",
    "knife_thickness_mm",
    "knife_room_mm",
    "snips_blade_mm",
    "approach_mm",
    "rat_tail_diameter_mm",
    "smallest_body_diameter_mm",
    "smallest_body_length_mm",
    "least_kept_share",
    "thin_neck_mm",
    "oversize_length_mm",
    "oversize_trim_fraction",
    "trim_oversize",
    "sound_keeps_chance",
    "thin_neck_keeps_chance",
    "small_keeps_chance",
    "hands_cost",
    "length_cost",
    "wound_cost",
    "tight_cost",
    "roomy_mm",
    "close_call",
]


def table() -> str:
    rules = load_rules()
    rows = []
    for name in RULES_OF_PLANS:
        rule = rules[name]
        spans = f"{rule.low:g} to {rule.high:g}"
        cells = [f"`{name}`", f"{rule.value:g}", spans, rule.unit, rule.says]
        rows.append(f"| {' | '.join(cells)} |")
    return "\n".join(rows)


def test_the_values_are_those_of_the_rules():
    """To renew the table, print `table()` into the page."""
    assert table() in PAGE.read_text(encoding="utf-8")


def test_every_rule_that_plans_use_is_in_the_table():
    package = Path(words.__file__).parent
    code = "".join(path.read_text(encoding="utf-8") for path in package.glob("*.py"))
    used = {name for name in load_rules() if f'"{name}"' in code}
    assert used - {"eye_diameter_mm"} == set(RULES_OF_PLANS)


def test_the_page_uses_the_words_of_the_plan():
    page = " ".join(PAGE.read_text(encoding="utf-8").split())
    assert words.NO_EYE in page
    assert "look at it before that cut" in words.eye_leaves("E1", "T1")
    assert "NOT YET REVIEWED" in page
