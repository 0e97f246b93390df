"""The cyclic programme against every subset of strokes."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eyefind.plan.choose import Circle, Worth, choose_strokes, is_safe, weight_of

SAFE = 0.9


@st.composite
def circles(draw) -> Circle:
    count = draw(st.integers(0, 8))

    def row(strategy):
        return np.array(draw(st.lists(strategy, min_size=count, max_size=count)))

    tubers = row(st.integers(0, 2)).astype(np.int64)
    sound = np.minimum(tubers, row(st.integers(0, 2)).astype(np.int64))
    chances = row(st.sampled_from([0.0, 0.0, 0.3, 0.6, 0.85, 0.9, 1.0]))
    weight = np.array([weight_of(chance) for chance in chances])
    return Circle(row(st.floats(0, 9)).astype(float), tubers, sound, weight)


def every_choice(circle: Circle) -> Worth:
    """Best worth over all subsets of strokes."""
    count = len(circle.cost)
    whole = is_safe(circle.weight.sum(), int(circle.sound.sum()), SAFE)
    best = Worth(int(whole), -int(not whole), 0.0)
    for size in range(2, count + 1):
        for chosen in combinations(range(count), size):
            safe = doubtful = 0
            for k, first in enumerate(chosen):
                span = (chosen[(k + 1) % size] - first) % count
                slots = [(first + s) % count for s in range(span)]
                if not circle.tubers[slots].sum():
                    break
                good = is_safe(
                    circle.weight[slots].sum(), int(circle.sound[slots].sum()), SAFE
                )
                safe, doubtful = safe + good, doubtful + (not good)
            else:
                cost = float(circle.cost[list(chosen)].sum())
                best = max(best, Worth(safe, -doubtful, -cost))
    return best


@settings(max_examples=300, deadline=None)
@given(circles())
def test_no_subset_of_strokes_is_better(circle):
    chosen, worth = choose_strokes(circle, SAFE)
    expected = every_choice(circle)
    assert worth[:2] == expected[:2]
    assert worth.minus_cost == pytest.approx(expected.minus_cost, abs=1e-6)
    assert chosen == sorted(set(chosen))
    assert len(chosen) != 1


def test_two_eyes_on_two_tubers_make_two_pieces():
    sure = weight_of(1.0)
    one = np.ones(2, dtype=np.int64)
    circle = Circle(np.ones(2), one, one, np.array([sure, sure]))
    assert choose_strokes(circle, SAFE)[0] == [0, 1]


def test_a_tuber_without_an_eye_stays_with_its_neighbour():
    one = np.ones(3, dtype=np.int64)
    circle = Circle(np.array([1.0, 5.0, 1.0]), one, one, weight_of(1.0) * np.eye(3)[0])
    assert choose_strokes(circle, SAFE)[0] == []
