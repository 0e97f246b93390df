"""The programme against every plan there is, and against integer programming."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan.crowns import SAFE, brute, by_milp, random_crown, value

from eyefind.plan.programme import Crown, Joint, Ring, best_plans
from eyefind.plan.worth import weight_of

SEEDS = 1000
"""Random crowns for each oracle, in ten runs."""


@pytest.mark.parametrize("first", range(0, SEEDS, SEEDS // 10))
def test_no_plan_of_all_is_better(first):
    for seed in range(first, first + SEEDS // 10):
        crown = random_crown(seed)
        expected, most = brute(crown)
        found = best_plans(crown, SAFE)
        safe = {k: plan.worth for k, plan in found.items() if k > 1 or plan.worth}
        assert safe == pytest.approx(expected, abs=1e-9), seed
        # A piece in doubt never helps: what stays with a neighbour costs no safe one.
        assert most == max(expected, default=0), seed


@pytest.mark.parametrize("first", range(0, SEEDS, SEEDS // 10))
def test_integer_programming_finds_the_same(first):
    for seed in range(first, first + SEEDS // 10):
        crown = random_crown(10_000 + seed, most_slots=4)
        found = best_plans(crown, SAFE)
        for pieces in range(2, max(found) + 2):
            worth = by_milp(crown, pieces)
            if pieces in found:
                assert worth == pytest.approx(found[pieces].worth, abs=1e-6), seed
            else:
                assert worth is None, seed


def test_a_plan_is_worth_what_it_says():
    """The worth is that of the strokes and joints that are named."""
    for seed in range(300):
        crown = random_crown(seed, most_cells=1)
        for pieces, plan in best_plans(crown, SAFE).items():
            for _, number, strokes in plan.made.stars:
                ring = crown.rings[0][number]
                turned = np.roll(np.arange(len(ring.load)), -strokes[0])
                ends = [(stroke - strokes[0]) for stroke in strokes[1:]]
                loads = [ring.load[part].sum(0) for part in np.split(turned, ends)]
                assert len(loads) == pieces
                worth = sum(value(load) for load in loads)
                worth -= ring.cost[list(strokes)].sum()
                assert worth == pytest.approx(plan.worth)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 10**6), st.data())
def test_a_surer_eye_never_costs_a_safe_piece(seed, data):
    crown = random_crown(seed)
    before = best_plans(crown, SAFE)
    cell = data.draw(st.integers(0, len(crown.rings) - 1))
    share = data.draw(st.floats(0, 1))
    for ring in crown.rings[cell]:
        ring.load[int(share * (len(ring.load) - 1)), 0] += weight_of(0.5)
    after = best_plans(crown, SAFE)
    assert max(after) >= max(before)
    for pieces in set(before) & set(after):
        assert after[pieces].worth >= before[pieces].worth - 1e-9


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10**6))
def test_every_smaller_number_of_pieces_can_be_had(seed):
    found = best_plans(random_crown(seed), SAFE)
    assert sorted(found) == list(range(1, max(found) + 1))


def one_each(eyes: list[float]) -> np.ndarray:
    return np.array([(weight_of(eye), weight_of(0.9), 1.0) for eye in eyes])


def test_two_eyes_on_two_tubers_make_two_pieces():
    crown = Crown([[Ring(np.full(2, 0.01), one_each([1.0, 1.0]))]])
    assert best_plans(crown, SAFE)[2].made.stars == ((0, 0, (0, 1)),)


def test_a_tuber_without_an_eye_stays_with_its_neighbour():
    crown = Crown([[Ring(np.full(3, 0.01), one_each([1.0, 0.0, 0.0]))]])
    assert list(best_plans(crown, SAFE)) == [1]


def test_an_eye_beyond_a_joint_counts_for_the_tuber_before_it():
    """Two stems: the left has a tuber without an eye, the right an eye without body."""
    left = np.array([(weight_of(1.0), weight_of(0.9), 1.0), (0.0, weight_of(0.9), 1.0)])
    right = np.array([(weight_of(1.0), 0.0, 0.0)])
    rings = [
        [Ring(np.full(2, 0.01), left, {0: 1})],
        [Ring(np.zeros(0), right, {0: 0})],
    ]
    plans = best_plans(Crown(rings, [Joint((0, 1), 0.05)]), SAFE)
    assert list(plans) == [1, 2]
    assert plans[2].made.joints == ()
