"""Cautions: each with a source, each beside its step, none without cause."""

from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest

from eyefind.data import Tool
from eyefind.sheet.cautions import first_cuts, load_cautions, texts_beside
from eyefind.sheet.leaving import what_leaves

STEPS = {
    "start",
    "spent_parent",
    "drying",
    "next_clump",
    "pieces",
    "discards",
    *get_args(Tool),
}
GUIDE = Path(__file__).parents[2] / "docs" / "sheet.md"


@pytest.mark.parametrize("name", load_cautions())
def test_each_has_a_step_a_text_and_a_source(name):
    caution = load_cautions()[name]
    assert caution.beside in STEPS
    assert 20 < len(caution.text) < 230
    assert caution.source


@pytest.mark.parametrize("step", sorted(STEPS))
def test_each_step_that_can_hurt_has_its_caution(step):
    assert texts_beside(step)


@pytest.mark.parametrize("name", load_cautions())
def test_each_source_stands_in_the_guide(name):
    guide = " ".join(GUIDE.read_text(encoding="utf-8").split())
    assert load_cautions()[name].source in guide


def test_what_must_be_said():
    # CDC leaflet CS316270A: gloves, fresh air, dilute, never mix with other cleaners.
    bleach = " ".join(texts_beside("next_clump"))
    for word in (
        "gloves",
        "fresh air",
        "label",
        "Never mix",
        "ammonia",
        "acids",
        "soil",
    ):
        assert word in bleach
    dust = " ".join(texts_beside("drying"))
    for word in ("label", "local rules", "Do not breathe"):
        assert word in dust
    assert "No photo tells a disease" in " ".join(texts_beside("discards"))
    assert '"No eye seen" is not "no eye"' in " ".join(texts_beside("pieces"))


def test_a_tool_is_warned_of_at_its_first_cut_only(record, plan):
    beginning = first_cuts(record, what_leaves(record))
    for tool in {cut.tool for cut in plan.cuts}:
        with_it = [cut.number for cut in plan.cuts if cut.tool == tool]
        assert [n for n, steps in beginning.items() if tool in steps] == with_it[:1]


def test_the_spent_parent_is_warned_of_at_its_own_cut(record, plan):
    beginning = first_cuts(record, what_leaves(record))
    warned = [n for n, steps in beginning.items() if "spent_parent" in steps]
    parent = [cut.number for cut in plan.cuts if "spent parent" in cut.purpose]
    assert warned == parent == [2]


def test_without_a_spent_parent_nobody_is_warned_of_one(record, plan):
    sound = replace(record, flags=[f for f in record.flags if f.kind != "spent_parent"])
    steps = first_cuts(sound, what_leaves(sound)).values()
    assert not any("spent_parent" in begun for begun in steps)
