"""The suggestion over the season against trying everything out."""

from itertools import product
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eyefind.cli.season.room import choice_words
from eyefind.data import Style
from eyefind.season.counts import chance_of_at_least
from eyefind.season.dividing import (
    CUT,
    CUT_COST,
    LITRE_COST,
    OUT,
    OUT_COST,
    SHORT_COST,
    Choice,
    Option,
    choose,
    goal_for,
    suggest,
)
from eyefind.season.garden import set_box, set_clumps, set_wish
from eyefind.season.tables import Clump, Way

NO_ROOM = Option(OUT, (), 0.0, 0)
options = st.builds(
    Option,
    st.sampled_from(["stems", "singles", "least"]),
    st.lists(st.sampled_from([0.2, 0.5, 0.9]), min_size=1, max_size=4).map(tuple),
    st.sampled_from([1.0, 2.5, 4.0]),
    st.integers(0, 5),
)
seasons = st.lists(
    st.tuples(st.sampled_from("AB"), st.lists(options, min_size=1, max_size=3)),
    min_size=1,
    max_size=5,
)


def cost_of(picked, goals, kept):
    """What a choice costs, by the words of the module alone."""
    cost = 0.0
    grown = dict.fromkeys(goals, 0.0)
    for (_, variety), option in picked:
        cost += OUT_COST if option.style == OUT else CUT_COST * option.cuts
        cost += LITRE_COST * option.litres
        grown[variety] += kept * sum(option.chances)
    return cost + SHORT_COST * sum(max(0.0, goals[v] - grown[v]) for v in goals)


@settings(deadline=None, max_examples=60)
@given(seasons, st.floats(0, 6), st.floats(0, 6), st.floats(0, 15))
def test_nothing_better_exists(clumps, goal_a, goal_b, room):
    named = {
        (str(number), variety): [NO_ROOM, *ways]
        for number, (variety, ways) in enumerate(clumps)
    }
    goals, kept = {"A": goal_a, "B": goal_b}, 0.9
    found = choose(named, goals, kept, room)
    picked = [((c.clump, c.variety), c.option) for c in found.choices]
    assert [name for name, _ in picked] == list(named)
    assert sum(option.litres for _, option in picked) <= room + 1e-6
    best = min(
        cost_of(list(zip(named, each, strict=True)), goals, kept)
        for each in product(*named.values())
        if sum(option.litres for option in each) <= room
    )
    assert cost_of(picked, goals, kept) == pytest.approx(best, rel=1e-3, abs=1e-3)


@pytest.mark.parametrize("need", [1, 4, 12])
@pytest.mark.parametrize("chance", [0.3, 0.9])
def test_the_goal_makes_the_count_likely_and_no_more(rules, need, chance):
    wished = rules.value("reach_chance")
    pieces = round(goal_for(need, [chance], 1.0, rules) / chance)
    assert chance_of_at_least(need, [chance] * pieces) >= wished
    assert chance_of_at_least(need, [chance] * (pieces - 1)) < wished


def test_nothing_is_needed_where_nothing_is_wanted(rules):
    assert goal_for(0, [0.9], 0.9, rules) == 0
    assert goal_for(3, [], 0.9, rules) == 3


def ways(ledger, clump: Clump, chance: float = 0.9) -> None:
    """A clump that stays whole, gives two pieces by one cut, or four by three."""
    with ledger.deed("ways") as deed:
        for style, pieces in (("whole", 1), ("singles", 4), ("least", 2)):
            deed.add(
                Way(
                    clump_id=clump.id,
                    style=style,
                    cuts=pieces - 1,
                    chances=str([chance] * pieces),
                    volumes_ml=str([400 // pieces] * pieces),
                )
            )


def styles(ledger, season, rules):
    return {c.clump: c.option.style for c in suggest(ledger, season, rules).choices}


@pytest.fixture
def two_clumps(ledger, season, rules):
    set_wish(ledger, season, "Owl Ledger")
    clumps = set_clumps(ledger, season, ["1", "2"], {"variety": "Owl Ledger"}, rules)
    for clump in clumps:
        ways(ledger, clump)
    return clumps


def test_few_wanted_stay_whole_and_many_are_divided(ledger, season, rules, two_clumps):
    assert set(styles(ledger, season, rules).values()) == {"whole"}
    # Three pieces make two plants likely, and so on.
    set_wish(ledger, season, "Owl Ledger", wanted=2)
    assert sorted(styles(ledger, season, rules).values()) == ["least", "whole"]
    set_wish(ledger, season, "Owl Ledger", wanted=3)
    assert sorted(styles(ledger, season, rules).values()) == ["singles", "whole"]
    set_wish(ledger, season, "Owl Ledger", wanted=8)
    found = suggest(ledger, season, rules)
    assert {c.option.style for c in found.choices} == {"singles"}
    assert found.short["Owl Ledger"] > 0
    assert found.proven


@pytest.mark.parametrize("style", get_args(Style))
def test_what_to_do_is_told_with_the_style_to_plan_by(style):
    words = choice_words(Choice("7", "Owl Ledger", Option(style, (0.9, 0.8), 1.0, 1)))
    assert words == f"7 (Owl Ledger): divide into 2 pieces, 1 cut (style {style})"


@pytest.mark.parametrize(
    ("option", "said"),
    [
        (NO_ROOM, "no room in store"),
        (Option(CUT, (0.9, 0.8, 0.7), 1.0, 0), "is cut already: 3 pieces"),
        (Option("stems", (0.9,), 1.0, 0), "keep it whole"),
    ],
)
def test_a_clump_that_is_not_to_be_divided(option, said):
    assert said in choice_words(Choice("7", "Owl Ledger", option))


def test_the_room_in_store_is_kept(ledger, season, rules, two_clumps):
    # Whole, a clump of 400 ml needs 2 l; in pieces it needs 1 l.
    set_box(ledger, season, "A", 1.2)
    found = suggest(ledger, season, rules)
    assert sorted(c.option.style for c in found.choices) == ["least", OUT]
    assert found.litres <= found.room == 1.2


def test_what_was_cut_stays_cut(ledger, season, rules, two_clumps, grow):
    grow(3, "Owl Ledger", 0.9, 0.9)
    set_clumps(ledger, season, ["3"], {"cut_on": "2026-11-08"}, rules)
    assert "EYE-0003" in styles(ledger, season, rules)


def test_the_demo_is_solved_with_every_clump_once(demo, demo_season, rules):
    found = suggest(demo, demo_season, rules)
    clumps = [choice.clump for choice in found.choices]
    assert len(clumps) == len(set(clumps))
    assert found.litres <= found.room
    assert found.proven
