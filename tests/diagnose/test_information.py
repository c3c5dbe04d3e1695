"""Expected information against direct numerical integration of its definition."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from kilter.diagnose.information import numeric_bits, word_bits

POINTS = 60_001


def integrated(weights, mean, sd, even, width):
    """Mutual information of one test by the trapezium rule; the even part lies over `width` around the means. [bit]"""
    low = min((mean - 8 * sd).min(), mean.mean() - width / 2)
    y = np.linspace(low, low + max(width, (mean + 8 * sd).max() - low), POINTS)
    inside = (y - low) < width
    density = (1 - even)[:, None] * norm.pdf(y, mean[:, None], sd[:, None]) + even[:, None] * inside / width

    def entropy(p):
        return -np.trapezoid(p * np.log2(np.maximum(p, 1e-300)), y, axis=-1)

    return entropy(weights @ density) - weights @ entropy(density)


def board(seed, hypotheses=40):
    random = np.random.default_rng(seed)
    weights = random.dirichlet(np.full(hypotheses, 0.3))
    mean = np.where(random.random(hypotheses) < 0.6, 5.0, random.uniform(0, 12, hypotheses))
    return weights, mean, random.choice([0.08, 0.15, 0.4], hypotheses)


@pytest.mark.parametrize("seed", range(12))
def test_numeric_information_equals_the_integral(seed):
    """Here 0.025 bit covers the classes of spread, 7 to 12 % apart, and the rounding of means to cells."""
    weights, mean, spread = board(seed)
    ours = numeric_bits(weights, mean[:, None], spread[:, None], np.array([0.05]), np.array([20.0]), np.array([0.02]))
    exact = integrated(weights, mean, np.hypot(spread, 0.05), np.full(40, 0.02), 20.0)
    assert ours[0] == pytest.approx(exact, abs=0.025)


@pytest.mark.parametrize("seed", range(8))
def test_unknown_predictions_count_as_broad(seed):
    weights, mean, spread = board(seed)
    unknown = np.random.default_rng(seed).choice([0.0, 0.0, 0.3, 1.0], 40)
    mean = np.where(unknown == 1.0, np.nan, mean)
    ours = numeric_bits(
        weights, mean[:, None], spread[:, None], np.array([0.05]), np.array([20.0]), np.array([0.02]), unknown[:, None]
    )
    filled = np.where(unknown == 1.0, 5.0, mean)
    exact = integrated(weights, filled, np.hypot(spread, 0.05), 1 - 0.98 * (1 - unknown), 20.0)
    assert ours[0] == pytest.approx(exact, abs=0.025)


def test_many_tests_at_once_equal_one_at_a_time():
    random = np.random.default_rng(0)
    weights, mean = random.dirichlet(np.ones(300)), random.uniform(0, 12, (300, 37))
    spread, unknown = random.uniform(0.05, 1.0, (300, 37)), (random.random((300, 37)) < 0.1).astype(float)
    rest = np.full(37, 0.02), np.full(37, 20.0), np.full(37, 0.02)
    together = numeric_bits(weights, mean, spread, *rest, unknown)
    for t in range(37):
        one = slice(t, t + 1)
        alone = numeric_bits(weights, mean[:, one], spread[:, one], *(x[one] for x in rest), unknown[:, one])
        assert alone[0] == pytest.approx(together[t], abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), hypotheses=st.integers(1, 30))
def test_information_lies_between_nothing_and_the_doubt(seed, hypotheses):
    """Mutual information is never negative and never more than the entropy of what is asked about."""
    random = np.random.default_rng(seed)
    weights = random.dirichlet(np.ones(hypotheses))
    entropy = -(weights * np.log2(np.maximum(weights, 1e-300))).sum()
    mean, spread = (
        random.uniform(-1, 1, (hypotheses, 3)) * 10 ** random.uniform(-2, 2),
        random.uniform(0, 1, (hypotheses, 3)),
    )
    bits = numeric_bits(weights, mean, spread, np.full(3, 0.01), np.full(3, 300.0), np.full(3, 0.02))
    assert (bits >= 0).all()
    assert (bits <= entropy + 1e-4).all()


def test_equal_predictions_bring_nothing():
    bits = numeric_bits(
        np.full(4, 0.25), np.full((4, 1), 5.0), np.full((4, 1), 0.1), *(np.array([x]) for x in (0.02, 20, 0.02))
    )
    assert bits[0] == pytest.approx(0.0, abs=1e-4)


def test_far_apart_predictions_bring_all():
    """Two equal hypotheses, no gross errors: exactly one bit."""
    mean = np.array([[0.0], [10.0]])
    bits = numeric_bits(np.full(2, 0.5), mean, np.full((2, 1), 0.1), *(np.array([x]) for x in (0.02, 20, 1e-9)))
    assert bits[0] == pytest.approx(1.0, abs=1e-4)


def test_word_information_by_its_definition():
    """Binary symmetric channel: one bit less the entropy of its error (Shannon 1948, from memory)."""
    error = 0.11
    capacity = 1 + error * np.log2(error) + (1 - error) * np.log2(1 - error)
    assert word_bits(np.full(2, 0.5), np.array([[1 - error, error], [error, 1 - error]])) == pytest.approx(capacity)
