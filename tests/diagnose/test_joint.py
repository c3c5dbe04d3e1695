"""The outlier sum against the full sum over all subsets, with scipy's multivariate normal as outside reference."""

from itertools import combinations

import numpy as np
import pytest
from scipy.special import logsumexp
from scipy.stats import multivariate_normal

from kilter.diagnose.joint import joint_density


def brute_force(deviation, covariance, log_in, log_out, largest=None):
    """Every subset of outliers by its definition; returns the log sum and each reading's outlier share."""
    count = len(deviation)
    logs, members = [], []
    for size in range((count if largest is None else largest) + 1):
        for out in combinations(range(count), size):
            stay = [i for i in range(count) if i not in out]
            term = log_out[list(out)].sum() + log_in[stay].sum()
            if stay:
                term += multivariate_normal(np.zeros(len(stay)), covariance[np.ix_(stay, stay)]).logpdf(deviation[stay])
            logs.append(term)
            members.append(np.isin(np.arange(count), out))
    total = logsumexp(logs)
    return total, np.exp(np.array(logs) - total) @ np.array(members, dtype=float)


def case(seed, count, wrong, lanes=6):
    random = np.random.default_rng(seed)
    factor = random.normal(size=(lanes, count, 3))
    covariance = factor @ factor.transpose(0, 2, 1) + np.eye(count) * 0.05
    deviation = np.array([random.multivariate_normal(np.zeros(count), c) for c in covariance])
    for lane in range(lanes):
        deviation[lane, random.choice(count, wrong, replace=False)] += random.choice([-1, 1], wrong) * random.uniform(
            5, 30
        )
    share = np.broadcast_to(random.uniform(0.005, 0.1, count), (lanes, count))
    return deviation, covariance, np.log1p(-share), np.log(share / 60.0)


@pytest.mark.parametrize("count", [1, 2])
@pytest.mark.parametrize("wrong", [0, 1])
def test_up_to_two_readings_are_summed_exactly(count, wrong):
    arguments = case(count * 10 + wrong, count, wrong)
    found = joint_density(*arguments)
    for lane in range(6):
        total, outlier = brute_force(*(table[lane] for table in arguments))
        assert found.log_density[lane] == pytest.approx(total, abs=1e-10)
        assert found.outlier[lane] == pytest.approx(outlier, abs=1e-10)


@pytest.mark.parametrize("count", [3, 5, 8])
def test_sum_lies_between_the_small_subsets_and_all(count):
    arguments = case(count, count, 0)
    found = joint_density(*arguments)
    for lane in range(6):
        one = [table[lane] for table in arguments]
        assert found.log_density[lane] >= brute_force(*one, largest=2)[0] - 1e-10
        assert found.log_density[lane] <= brute_force(*one)[0] + 1e-10


@pytest.mark.parametrize("wrong", range(7))
@pytest.mark.parametrize("seed", range(4))
def test_eight_readings_with_some_wrong(seed, wrong):
    """Never above the full sum; up to six of eight wrong readings at most half a unit of log density below it."""
    arguments = case(seed, 8, wrong)
    found = joint_density(*arguments)
    for lane in range(6):
        total, outlier = brute_force(*(table[lane] for table in arguments))
        assert total - 0.5 <= found.log_density[lane] <= total + 1e-9
        if wrong <= 3:
            assert found.log_density[lane] == pytest.approx(total, abs=0.005)
            assert found.outlier[lane] == pytest.approx(outlier, abs=0.005)


def test_outliers_that_hide_each_other_are_found():
    """Two readings of one net and two of another, of which the second pair is wrong in the same way."""
    covariance = np.array([[[1.01, 1, 1, 1], [1, 1.01, 1, 1], [1, 1, 1.01, 1], [1, 1, 1, 1.01]]])
    deviation = np.array([[0.3, 0.31, 9.0, 9.1]])
    share = np.full((1, 4), 0.02)
    arguments = (deviation, covariance, np.log1p(-share), np.log(share / 20))
    found = joint_density(*arguments)
    total, _ = brute_force(*(table[0] for table in arguments))
    assert found.log_density[0] == pytest.approx(total, abs=1e-3)
    assert found.outlier[0] == pytest.approx([0, 0, 1, 1], abs=0.01)


def test_a_reading_that_cannot_be_an_outlier_drops_out():
    """Log weights chosen so that the reading contributes a factor of one, as where nothing is predicted."""
    deviation, covariance, log_in, log_out = case(9, 6, 4)
    rest = [0, 1, 3, 4, 5]
    covariance[:, 2, :] = covariance[:, :, 2] = 0.0
    covariance[:, 2, 2], deviation[:, 2] = 1.0, 0.0
    log_in, log_out = log_in.copy(), log_out.copy()
    log_in[:, 2], log_out[:, 2] = 0.5 * np.log(2 * np.pi), -np.inf
    with_it = joint_density(deviation, covariance, log_in, log_out)
    without = joint_density(deviation[:, rest], covariance[:, rest][:, :, rest], log_in[:, rest], log_out[:, rest])
    assert with_it.log_density == pytest.approx(without.log_density, abs=1e-9)
    assert with_it.outlier[:, rest] == pytest.approx(without.outlier, abs=1e-9)


def test_order_of_readings_is_irrelevant():
    arguments = case(3, 9, 4)
    order = np.random.default_rng(1).permutation(9)
    deviation, covariance, log_in, log_out = arguments
    here = joint_density(*arguments)
    there = joint_density(deviation[:, order], covariance[:, order][:, :, order], log_in[:, order], log_out[:, order])
    assert there.log_density == pytest.approx(here.log_density, abs=1e-9)
    assert there.outlier == pytest.approx(here.outlier[:, order], abs=1e-9)


def test_never_zero_and_never_missing_when_everything_is_absurd():
    deviation, covariance, log_in, log_out = case(5, 10, 10)
    found = joint_density(deviation * 1e6, covariance, log_in, log_out)
    assert np.isfinite(found.log_density).all()
    assert found.log_density == pytest.approx(log_out.sum(axis=1), rel=1e-6)
    assert found.outlier == pytest.approx(np.ones((6, 10)), abs=1e-6)
