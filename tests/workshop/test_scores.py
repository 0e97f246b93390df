"""Scores on hand-made cases whose value is known."""

import numpy as np
import pytest

from eyefind.workshop.scores import (
    Ranked,
    auroc,
    average_precision,
    brier,
    panoptic_quality,
    recall_at,
    reliability,
    threshold_at,
    with_interval,
)


def ranked(likelihood, hit, total):
    hit = np.array(hit, bool)
    return Ranked(np.array(likelihood), hit, np.ones(len(hit), bool), total)


def test_a_perfect_finder_scores_one():
    clumps = [ranked([0.9, 0.8], [1, 1], 2), ranked([0.95], [1], 1)]
    assert recall_at(clumps, 0.0) == 1.0
    assert average_precision(clumps) == 1.0


def test_known_misses_give_known_recall():
    # Falling: hit 0.9, false 0.8, hit 0.7, false 0.6, false 0.5, hit 0.4; 4 to find.
    clumps = [
        ranked([0.9, 0.8, 0.6], [1, 0, 0], 2),
        ranked([0.7, 0.5, 0.4], [1, 0, 1], 2),
    ]
    assert recall_at(clumps, 0.0) == 0.25
    assert recall_at(clumps, 0.5) == 0.5
    assert recall_at(clumps, 1.0) == 0.5
    assert recall_at(clumps, 1.5) == 0.75
    assert threshold_at(clumps, 0.5) == 0.7
    assert average_precision(clumps) == pytest.approx((1 + 2 / 3 + 3 / 6) / 4)


def test_flags_of_equal_likelihood_go_together():
    clumps = [ranked([0.5, 0.5], [1, 0], 1)]
    assert recall_at(clumps, 0.0) == 0.0
    assert recall_at(clumps, 1.0) == 1.0


def test_a_hit_that_is_not_wanted_counts_neither_way():
    one = Ranked(
        np.array([0.9, 0.8]), np.array([True, True]), np.array([False, True]), 1
    )
    assert recall_at([one], 0.0) == 1.0
    assert average_precision([one]) == 1.0


def test_nothing_to_find_has_no_recall():
    assert np.isnan(recall_at([ranked([0.9], [0], 0)], 1.0))
    assert np.isnan(average_precision([]))


def test_auroc_is_the_share_of_pairs_in_order():
    random = np.random.default_rng(0)
    score, positive = random.integers(0, 6, 40).astype(float), random.random(40) < 0.4
    pairs = [
        (score[i] > score[j]) + (score[i] == score[j]) / 2
        for i in np.nonzero(positive)[0]
        for j in np.nonzero(~positive)[0]
    ]
    assert auroc(score, positive) == pytest.approx(np.mean(pairs))
    assert np.isnan(auroc(score, np.ones(40, bool)))


def test_panoptic_quality_worked_by_hand():
    # Two matches (0.8, 0.6), one region found for nothing, two missed:
    # 1.4 / (2 + 1/2 + 2/2), Kirillov et al., CVPR 2019, formula 1.
    assert panoptic_quality([0.8, 0.6], 3, 4) == pytest.approx(1.4 / 3.5)
    assert panoptic_quality([1.0, 1.0], 2, 2) == 1.0


def test_calibration_of_a_coin():
    likelihood, hit = np.full(10, 0.5), np.arange(10) % 2 == 0
    assert brier(likelihood, hit) == 0.25
    assert reliability(likelihood, hit) == [(0.5, 0.7, 0.5, 0.5, 10)]
    assert reliability(np.array([1.0]), np.array([True])) == [(0.85, 1.0, 1.0, 1.0, 1)]


def test_interval_covers_the_value_and_narrows_with_more_clumps():
    few = [ranked([0.9], [n % 2], 1) for n in range(8)]
    score = lambda some: recall_at(some, 9.0)  # noqa: E731
    wide, narrow = (with_interval(score, few * k, 8 * k) for k in (1, 8))
    assert wide.low <= wide.value == narrow.value == 0.5 <= wide.high
    assert narrow.high - narrow.low < wide.high - wide.low


def test_the_interval_covers_the_truth_about_as_often_as_it_says():
    # Percentile bootstrap, Efron and Tibshirani 1993, chapter 13: near 95 % of
    # intervals hold the true share, somewhat fewer with so few clumps.
    random = np.random.default_rng(5)
    covered = 0
    for seed in range(40):
        clumps = [ranked(np.full(4, 0.9), random.random(4) < 0.3, 4) for _ in range(40)]
        value = with_interval(lambda some: recall_at(some, 9.0), clumps, 160, seed)
        covered += value.low <= 0.3 <= value.high
    assert 0.85 <= covered / 40 <= 1.0
