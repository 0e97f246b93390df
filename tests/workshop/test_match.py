"""One-to-one matching against brute force over all assignments."""

from itertools import permutations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import linear_sum_assignment

from eyefind.workshop.match import hits_by_rank, match_points, match_regions

places = st.integers(0, 5).flatmap(
    lambda count: arrays(np.float64, (count, 2), elements=st.integers(0, 12))
)


def brute_force(found, true, within):
    """Most pairs within reach, then the least summed distance, over all assignments."""
    few, many = (found, true) if len(found) <= len(true) else (true, found)
    best = (0, 0.0)
    for chosen in permutations(range(len(many)), len(few)):
        far = [np.hypot(*(few[i] - many[j])) for i, j in enumerate(chosen)]
        near = [distance for distance in far if distance <= within]
        best = max(best, (len(near), -sum(near)))
    return best


@given(places, places, st.integers(0, 6))
@settings(max_examples=150, deadline=None)
def test_hungarian_is_as_good_as_trying_everything(found, true, within):
    pairs = match_points(found, true, float(within))
    far = [np.hypot(*(found[i] - true[j])) for i, j in pairs]
    assert len({i for i, _ in pairs}) == len({j for _, j in pairs}) == len(pairs)
    count, minus_sum = brute_force(found, true, float(within))
    assert len(pairs) == count
    np.testing.assert_allclose(sum(far), -minus_sum, atol=1e-9)


@given(places, places, st.integers(0, 6))
@settings(max_examples=100, deadline=None)
def test_hits_of_the_first_n_flags_are_their_best_match(found, true, within):
    hits = hits_by_rank(found, true, float(within))
    for count in range(len(found) + 1):
        best = len(match_points(found[:count], true, float(within)))
        assert hits[:count].sum() == best


def test_one_eye_is_found_once():
    found = np.array([[0.0, 0.0], [0.0, 1.0], [9.0, 9.0]])
    true = np.array([[0.0, 0.4]])
    assert hits_by_rank(found, true, 3.0).tolist() == [True, False, False]


def test_regions_pair_by_overlap():
    left, right = np.zeros((4, 8), bool), np.zeros((4, 8), bool)
    left[:, :4], right[:, 4:] = True, True
    part = left & (np.arange(8) < 3)
    assert match_regions([right, part], [left, right], 0.5) == [
        (0, 1, 1.0),
        (1, 0, 0.75),
    ]
    assert match_regions([part], [left], 0.8) == []
    assert match_regions([], [left], 0.5) == []


@given(places, places)
@settings(max_examples=100, deadline=None)
def test_with_all_in_reach_it_is_the_plain_assignment(found, true):
    """Without a limit the summed distance is that of scipy's own assignment."""
    pairs = match_points(found, true, 1e3)
    far = np.hypot(*(found[:, None] - true[None]).transpose(2, 0, 1))
    rows, cols = linear_sum_assignment(far)
    assert len(pairs) == len(rows) == min(len(found), len(true))
    total = sum(far[pair] for pair in pairs)
    np.testing.assert_allclose(total, far[rows, cols].sum(), atol=1e-9)
