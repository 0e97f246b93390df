"""The match of two sides: a known turn or flip of an invented clump is found again."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from sides.turned import drawn_sides, two_sides

from eyefind.errors import UsageError
from eyefind.sides import pair_words, read_pairs, suggest


@settings(deadline=None, max_examples=60)
@given(drawn_sides(noise=0.2))
def test_any_turn_and_any_flip_is_recovered(seen):
    found = suggest(seen.main, seen.side)
    assert found.pairs == seen.pairs
    assert found.flipped == seen.flipped


@pytest.mark.parametrize(("hidden", "aim"), [(0, 0.97), (2, 0.85)])
def test_noise_and_hidden_tubers_leave_most_matches_whole(hidden, aim):
    whole = 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        count, turn = int(rng.integers(5, 13)), float(rng.uniform(0, 360))
        seen = two_sides(rng, count, bool(seed % 2), turn, hidden)
        whole += suggest(seen.main, seen.side).pairs == seen.pairs
    assert whole >= aim * 60


def test_a_clump_of_like_tubers_is_not_sure():
    rng = np.random.default_rng(1)
    seen = two_sides(rng, 6, flipped=False, turn=0.0, noise=0.0)
    alike = [
        replace(tuber, length_mm=80.0, max_diameter_mm=25.0, neck_width_mm=6.0)
        for tuber in seen.main.tubers
    ]
    # Nothing but their order is left, and evenly spaced ones fit at every turn.
    for number, tuber in enumerate(alike):
        turn = 2 * np.pi * number / 6
        middle = seen.main.crown_outline_px.mean(axis=0)
        neck = middle + 120 * np.array([-np.cos(turn), np.sin(turn)])
        alike[number] = replace(tuber, neck_rc_px=neck)
    even = replace(seen.main, tubers=alike)
    assert not suggest(even, even).sure
    assert suggest(seen.main, seen.main).sure


def test_side_tubers_have_no_partner_and_an_empty_photo_no_pair():
    seen = two_sides(np.random.default_rng(2), 5, flipped=True, turn=40.0)
    first, *rest = seen.main.tubers
    hung = replace(seen.main, tubers=[replace(first, attached_to="T2"), *rest])
    assert "T1" not in suggest(hung, seen.side).pairs
    empty = replace(seen.side, tubers=[])
    assert suggest(seen.main, empty).pairs == {}
    assert not suggest(seen.main, empty).sure


def test_pairs_are_read_as_they_are_written():
    seen = two_sides(np.random.default_rng(3), 5, flipped=False, turn=100.0)
    assert read_pairs(pair_words(seen.pairs), seen.main, seen.side) == seen.pairs
    assert read_pairs(" t1 = t2;T2=T3 ", seen.main, seen.side) == {
        "T1": "T2",
        "T2": "T3",
    }
    assert read_pairs("", seen.main, seen.side) == {}


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("T9=T1", "the main photo has no such tuber"),
        ("T1=T9", "the other side has no such tuber"),
        ("T1", "no such tuber"),
        ("T1=T2,T1=T3", "twice"),
        ("T1=T2,T3=T2", "twice"),
    ],
)
def test_pairs_that_make_no_sense(text, message):
    seen = two_sides(np.random.default_rng(3), 5, flipped=False, turn=100.0)
    with pytest.raises(UsageError, match=message):
        read_pairs(text, seen.main, seen.side)
