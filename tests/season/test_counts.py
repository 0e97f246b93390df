"""Enough of each? The chances against others' formulas, and what counts for what."""

from datetime import date
from itertools import product
from math import prod

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from eyefind.season.counts import (
    NO_VARIETY,
    chance_of_at_least,
    count_varieties,
    loss_of,
)
from eyefind.season.garden import find_variety, set_clumps, set_wish
from eyefind.season.spring import note_growth
from eyefind.season.winter import note_check

chances = st.lists(st.floats(0, 1), max_size=7)


@given(st.integers(-1, 9), st.integers(0, 60), st.floats(0, 1))
def test_alike_pieces_follow_the_binomial_distribution(need, pieces, chance):
    expected = binom.sf(need - 1, pieces, chance)
    assert chance_of_at_least(need, [chance] * pieces) == pytest.approx(expected)


@given(st.integers(0, 8), chances)
def test_unlike_pieces_are_counted_out(need, chances):
    total = sum(
        prod(c if grows else 1 - c for c, grows in zip(chances, each, strict=True))
        for each in product((False, True), repeat=len(chances))
        if sum(each) >= need
    )
    assert chance_of_at_least(need, chances) == pytest.approx(total)


@given(st.integers(0, 8), chances, st.floats(0, 1))
def test_one_more_piece_never_makes_it_less_likely(need, chances, more):
    before = chance_of_at_least(need, chances)
    assert chance_of_at_least(need, [*chances, more]) >= before - 1e-12


def counted(ledger, season, rules, name):
    (found,) = [c for c in count_varieties(ledger, season, rules) if c.variety == name]
    return found


def test_safe_and_doubtful_are_counted_against_what_is_wanted(
    ledger, season, rules, grow
):
    grow(1, "Harrow Pink", 0.9, 0.9, 0.5)
    grow(2, "Harrow Pink", 1.0)
    set_wish(ledger, season, "Harrow Pink", wanted=2, give_away=1)
    found = counted(ledger, season, rules, "Harrow Pink")
    assert (found.wanted, found.give_away, found.clumps) == (2, 1, 2)
    assert (found.safe, found.doubtful) == (3, 1)
    kept = 1 - loss_of(season, rules)
    assert found.expected == pytest.approx(3.3 * kept)
    assert found.chance == pytest.approx(
        chance_of_at_least(3, [c * kept for c in (0.9, 0.9, 0.5, 1.0)])
    )
    assert found.chance_low < found.chance < found.chance_high


def test_short_and_surplus(ledger, season, rules, grow):
    grow(1, "Owl Ledger", 0.9)
    grow(2, "Marrow Lamp", 1.0, 1.0, 1.0, 1.0, 1.0)
    set_wish(ledger, season, "Owl Ledger", wanted=4)
    set_wish(ledger, season, "Marrow Lamp", wanted=1)
    set_wish(ledger, season, "Gannet Thursday", wanted=2)
    owl, marrow, none = (
        counted(ledger, season, rules, name)
        for name in ("Owl Ledger", "Marrow Lamp", "Gannet Thursday")
    )
    assert (owl.short, owl.surplus, owl.chance) == (3, 0, 0.0)
    assert (marrow.short, marrow.surplus) == (0, 4)
    assert (none.clumps, none.short) == (0, 2)


def test_what_is_soft_or_lost_does_not_count_and_what_grew_is_past_the_losses(
    ledger, season, rules, grow
):
    pieces = grow(1, "Quince Parade", 0.9, 0.9, 0.9, 0.9, 0.2)
    note_check(ledger, pieces[:1], "lost", date(2027, 1, 10))
    note_check(ledger, pieces[1:2], "soft", date(2027, 1, 10))
    note_growth(ledger, pieces[2:3], "blind", date(2027, 4, 20))
    note_growth(ledger, pieces[4:], "shot", date(2027, 4, 20))
    found = counted(ledger, season, rules, "Quince Parade")
    assert found.safe + found.doubtful == 3
    assert found.expected == pytest.approx(0.9 * (1 - loss_of(season, rules)) + 1)


def test_a_soft_piece_that_was_found_sound_later_counts_again(
    ledger, season, rules, grow
):
    pieces = grow(1, "Quince Parade", 0.9)
    note_check(ledger, pieces, "soft", date(2027, 1, 10))
    note_check(ledger, pieces, "sound", date(2027, 2, 10))
    assert counted(ledger, season, rules, "Quince Parade").safe == 1


def test_the_loss_that_the_grower_gives_is_taken(ledger, season, rules, grow):
    grow(1, "Owl Ledger", 1.0, 1.0)
    set_wish(ledger, season, "Owl Ledger", wanted=2)
    with ledger.deed("loss") as deed:
        season = deed.change(season, loss=0.5)
    assert counted(ledger, season, rules, "Owl Ledger").chance == pytest.approx(0.25)


def test_clumps_without_a_variety_come_last(ledger, season, rules, grow):
    grow(1, "Owl Ledger", 0.9)
    set_clumps(ledger, season, ["2"], {}, rules)
    assert [c.variety for c in count_varieties(ledger, season, rules)] == [
        "Owl Ledger",
        NO_VARIETY,
    ]


def test_a_binned_variety_is_not_counted(ledger, season, rules, grow):
    set_wish(ledger, season, "Owl Ledger", wanted=3)
    with ledger.deed("bin") as deed:
        deed.bin(find_variety(ledger, season, "owl ledger"))
    assert count_varieties(ledger, season, rules) == []


def test_the_demo_counts_every_clump_and_piece_once(demo, demo_season, rules):
    found = count_varieties(demo, demo_season, rules)
    assert sum(count.clumps for count in found) == 40
    assert len(found) == 12
    (pieces,) = demo.ask("SELECT count(*) FROM piece_seen WHERE NOT gone")[0]
    assert sum(count.safe + count.doubtful for count in found) == pieces
