"""
The interval of a ratio over clusters against closed forms.

Cochran, Sampling Techniques (1977, section 6.4; from memory): the variance of a ratio r of two sums over n clusters is
sum((above - r below)^2) / sum(below)^2 for large n. Kish, Survey Sampling (1965; from memory): clusters of m equal
cases make the variance m times that of independent ones.
"""

from __future__ import annotations

import numpy as np
import pytest

from kilter.services.cluster_bootstrap import ratio_intervals
from kilter.services.report_calibration import Told, calibration_of

NORMAL = 1.959963984540054
DRAWS = 4000


def half_width(above, below):
    low, high = ratio_intervals(above[:, None], below[:, None], draws=DRAWS)[0]
    return (high - low) / 2


def test_clusters_of_one_are_the_plain_standard_error() -> None:
    values = np.random.default_rng(1).normal(0.0, 2.0, 900)
    expected = NORMAL * values.std() / 30  # sd / sqrt(n)
    assert half_width(values, np.ones(900)) == pytest.approx(expected, rel=0.06)  # 4000 draws: ends to some 3 %


def test_unequal_clusters_have_the_spread_of_a_ratio_estimate() -> None:
    random = np.random.default_rng(2)
    below = random.integers(0, 6, 700).astype(float)
    above = random.binomial(below.astype(int), random.beta(0.5, 1.0, 700)).astype(float)
    ratio = above.sum() / below.sum()
    expected = NORMAL * np.sqrt(((above - ratio * below) ** 2).sum()) / below.sum()
    assert half_width(above, below) == pytest.approx(expected, rel=0.06)


@pytest.mark.parametrize("size", [4, 9])
def test_equal_cases_in_a_cluster_widen_the_interval_by_the_root_of_their_number(size: int) -> None:
    so = (np.random.default_rng(3).random(600) < 0.4).astype(float)
    alone = half_width(np.repeat(so, size), np.ones(600 * size))
    assert half_width(so * size, np.full(600, float(size))) == pytest.approx(alone * np.sqrt(size), rel=0.09)


def test_what_says_nothing_is_not_known() -> None:
    """One cluster, or none, tells nothing of how clusters differ."""
    found = ratio_intervals([[1.0, 0.0], [0.0, 0.0]], [[3.0, 0.0], [0.0, 0.0]], draws=20)
    assert np.isnan(found).all()


def test_intervals_hold_the_true_gap_of_honest_calls_as_often_as_they_say() -> None:
    """Four cases of a visit share one chance and one outcome; 95 % of 200 intervals: 179 to 200 within 4 sd."""
    held = 0
    for seed in range(200):
        random = np.random.default_rng([seed, 9])
        chance = random.uniform(0.36, 0.44, 150)
        so = random.random(150) < chance
        above = 4.0 * (so - chance)
        low, high = ratio_intervals(above[:, None], np.full((150, 1), 4.0), draws=400)[0]
        held += low <= 0.0 <= high
    assert 178 <= held <= 200


def test_the_curve_tells_them_in_wider_intervals_than_wilsons() -> None:
    random = np.random.default_rng(4)
    visits = []
    for _ in range(300):
        so = bool(random.random() < 0.4)
        visits.append([Told(0.4, so)] * 5)
    found = calibration_of(visits).as_called.bins[0]
    width = found.gap_high - found.gap_low
    # five equal cases: sqrt(5) times the interval of as many independent ones
    assert width == pytest.approx((found.high - found.low) * np.sqrt(5), rel=0.12)
    assert found.gap_low <= found.gap <= found.gap_high
    assert calibration_of(visits).plain()["as_called"]["bins"][0]["gap_low"] == found.gap_low
