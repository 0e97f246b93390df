"""Cautions: each with a source, each beside its step, none without cause."""

from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest
from blank_pictures import blank_pictures
from sheet_text import text_of

from eyefind.data import Tool
from eyefind.sheet.cautions import first_cuts, load_cautions, texts_beside
from eyefind.sheet.pages import make_sheet

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


def test_a_tool_is_warned_of_at_its_first_cut_only(plan):
    beginning = first_cuts(plan)
    for tool in {cut.tool for cut in plan.cuts}:
        with_it = [cut.number for cut in plan.cuts if cut.tool == tool]
        assert [n for n, steps in beginning.items() if tool in steps] == with_it[:1]


def test_the_spent_parent_is_warned_of_at_its_own_cut(plan):
    beginning = first_cuts(plan)
    warned = [n for n, steps in beginning.items() if "spent_parent" in steps]
    parent = [cut.number for cut in plan.cuts if "spent parent" in cut.purpose]
    assert warned == parent == [2]


def test_without_a_spent_parent_nobody_is_warned_of_one(plan):
    sound = [cut for cut in plan.cuts if "spent parent" not in cut.purpose]
    steps = first_cuts(replace(plan, cuts=sound)).values()
    assert not any("spent_parent" in begun for begun in steps)


def test_a_parent_that_stays_beside_a_rats_tail_is_not_warned_of_there(
    record, plan, standing
):
    """Grouped short cuts took the caution over when its flag lay on what they cut."""
    parent = next(flag for flag in record.flags if flag.kind == "spent_parent")
    (off,) = (gone for gone in plan.discards if gone.belongs_to == parent.belongs_to)
    knife = next(cut for cut in plan.cuts if "spent parent" in cut.purpose)
    tails = [
        replace(knife, number=number, purpose="trim a rat's tail")
        for number in range(1, 4)
    ]
    tail = replace(off, what="thin end of T1", belongs_to="T1")
    told = replace(plan, cuts=tails, discards=[tail])
    page = " ".join(told_in(replace(record, plan=told), standing).split())
    assert all(text not in page for text in texts_beside("spent_parent"))
    whole = " ".join(told_in(record, standing).split())
    assert all(text in whole for text in texts_beside("spent_parent"))


def told_in(record, standing):
    pictures = blank_pictures()
    pdf = make_sheet(pictures, record, record.plan, standing, "A4", "a.json")
    return " ".join(text_of(pdf))
