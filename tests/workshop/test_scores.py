"""Scores on hand-made cases whose value is known."""

import numpy as np
import pytest
from scipy.stats import mannwhitneyu, norm

from eyefind.workshop.scores import (
    Ranked,
    auroc,
    average_precision,
    brier,
    interval,
    panoptic_quality,
    recall_at,
    recall_curve,
    reliability,
    roc,
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


def test_auroc_is_scipys_mann_whitney_statistic():
    random = np.random.default_rng(1)
    score, positive = random.random(60).round(1), random.random(60) < 0.3
    pairs = positive.sum() * (~positive).sum()
    statistic = mannwhitneyu(score[positive], score[~positive]).statistic
    assert auroc(score, positive) == pytest.approx(statistic / pairs)


def test_auroc_of_two_normal_distributions():
    # Green and Swets, Signal Detection Theory, 1966: area = Phi(d' / sqrt 2).
    even = norm.ppf((np.arange(500) + 0.5) / 500)
    score = np.concatenate([even, even + 1.5])
    area = auroc(score, np.arange(1000) >= 500)
    assert area == pytest.approx(norm.cdf(1.5 / np.sqrt(2)), abs=1e-3)


def test_the_worked_examples_of_a_published_library():
    # From the reference pages of scikit-learn 1.5: roc_auc_score, roc_curve,
    # average_precision_score, brier_score_loss.
    score, positive = np.array([0.1, 0.4, 0.35, 0.8]), np.array([0, 0, 1, 1], bool)
    assert auroc(score, positive) == 0.75
    wrong, right = roc(score, positive)
    assert wrong.tolist() == [0.0, 0.0, 0.5, 0.5, 1.0]
    assert right.tolist() == [0.0, 0.5, 0.5, 1.0, 1.0]
    clump = ranked(score, positive, 2)
    assert average_precision([clump]) == pytest.approx(0.83, abs=0.005)
    coins = ranked([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0], 2)
    assert brier([coins]) == pytest.approx(0.0375)


def test_the_area_under_the_curve_is_the_auroc():
    random = np.random.default_rng(2)
    score, positive = random.integers(0, 9, 50).astype(float), random.random(50) < 0.4
    wrong, right = roc(score, positive)
    assert np.trapezoid(right, wrong) == pytest.approx(auroc(score, positive))


def test_panoptic_quality_worked_by_hand():
    # Two matches (0.8, 0.6), one region found for nothing, two missed:
    # 1.4 / (2 + 1/2 + 2/2), Kirillov et al., CVPR 2019, formula 1.
    assert panoptic_quality([0.8, 0.6], 3, 4) == pytest.approx(1.4 / 3.5)
    assert panoptic_quality([1.0, 1.0], 2, 2) == 1.0
    assert np.isnan(panoptic_quality([], 0, 0))


def test_panoptic_quality_is_segmentation_times_recognition():
    # Kirillov et al., CVPR 2019, formula 2: mean overlap of the matches times F1.
    overlaps, found, true = [0.55, 0.7, 0.95], 7, 4
    precision, recall = 3 / found, 3 / true
    recognition = 2 * precision * recall / (precision + recall)
    quality = panoptic_quality(overlaps, found, true)
    assert quality == pytest.approx(np.mean(overlaps) * recognition)


def test_calibration_of_a_coin():
    coins = ranked(np.full(10, 0.5), np.arange(10) % 2 == 0, 5)
    assert brier([coins]) == 0.25
    (only,) = reliability([coins])
    assert (only.low, only.high, only.mean) == (0.5, 0.7, 0.5)
    assert (only.share.value, only.share.count) == (0.5, 10)
    (last,) = reliability([ranked([1.0], [1], 1)])
    assert (last.low, last.high, last.share.value) == (0.85, 1.0, 1.0)


def test_the_brier_score_is_reliability_less_resolution_plus_uncertainty():
    # Murphy 1973, Journal of Applied Meteorology 12, 595-600.
    random = np.random.default_rng(3)
    told = np.repeat([0.02, 0.3, 0.6, 0.9], 25)
    hit = random.random(100) < told
    clumps = [ranked(told[::2], hit[::2], 50), ranked(told[1::2], hit[1::2], 50)]
    bins, base = reliability(clumps), hit.mean()
    assert [each.share.count for each in bins] == [25] * 4
    unreliable = np.mean([(each.mean - each.share.value) ** 2 for each in bins])
    resolved = np.mean([(each.share.value - base) ** 2 for each in bins])
    expected = unreliable - resolved + base * (1 - base)
    assert brier(clumps) == pytest.approx(expected)


def test_the_recall_curve_is_the_recall_at_each_point():
    random = np.random.default_rng(4)
    clumps = [ranked(random.random(9), random.random(9) < 0.4, 6) for _ in range(5)]
    at = np.array([0.0, 0.5, 1.0, 3.0, 9.0])
    curve = recall_curve(clumps, at)
    assert curve.tolist() == [recall_at(clumps, each) for each in at]
    low, high = interval(lambda some: recall_curve(some, at), clumps)
    assert (low <= curve).all()
    assert (curve <= high).all()


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
