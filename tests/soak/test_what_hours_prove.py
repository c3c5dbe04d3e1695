"""
What a soak proves against the NIST/SEMATECH e-Handbook of Statistical Methods and another library.

8.4.5.1: 800 hours with two failures, 90 % interval 127 to 2251 h, factors 0.3177 and 5.6281; 8.3.1.1: test length
guide. Both from memory, agreeing with chi-square quantiles of another library.
"""

from __future__ import annotations

import math

import pytest

from kilter.measure.errors import OutOfRange
from kilter.measure.gamma import chi_square_quantile, gamma_below, gamma_quantile
from kilter.planning.soak.proved import (
    Bound,
    hours_needed,
    least_mtbf,
    least_success,
    mtbf_interval,
    tries_needed,
)

FACTORS = {
    (1, 0.6): (0.3340, 4.4814), (1, 0.9): (0.2108, 19.4957), (2, 0.8): (0.3758, 3.7607), (2, 0.9): (0.3177, 5.6281),
    (3, 0.95): (0.3422, 4.8491), (5, 0.6): (0.6324, 1.6184), (10, 0.9): (0.5895, 1.8432), (10, 0.95): (0.5438, 2.0853),
}  # fmt: skip
"""Factors on the point estimate T / r, time-terminated, worked with chi-square quantiles of another library."""
GUIDE = {
    0: {0.5: 0.693, 0.6: 0.916, 0.75: 1.39, 0.8: 1.61, 0.9: 2.30, 0.95: 3.00},
    1: {0.5: 1.68, 0.6: 2.02, 0.75: 2.69, 0.8: 2.99, 0.9: 3.89, 0.95: 4.74},
    2: {0.5: 2.67, 0.6: 3.11, 0.75: 3.92, 0.8: 4.28, 0.9: 5.32, 0.95: 6.30},
}
"""e-Handbook 8.3.1.1: hours over the MTBF to be proved, by failures allowed and confidence."""


def test_the_worked_interval_of_the_handbook() -> None:
    assert mtbf_interval(800, 2, 0.9) == pytest.approx((127, 2251), abs=0.6)


@pytest.mark.parametrize(("case", "told"), FACTORS.items())
def test_factors(case: tuple[int, float], told: tuple[float, float]) -> None:
    failures, confidence = case
    assert mtbf_interval(failures, failures, confidence) == pytest.approx(told, abs=6e-5)


@pytest.mark.parametrize(("failures", "row"), GUIDE.items())
def test_length_of_tests(failures: int, row: dict[float, float]) -> None:
    for confidence, told in row.items():
        assert hours_needed(1.0, failures, confidence) == pytest.approx(told, abs=0.006)


def test_more_worked_figures() -> None:
    """Worked with chi-square quantiles of another library."""
    assert mtbf_interval(10_000, 5, 0.9) == pytest.approx((951.2, 5075.8), abs=0.06)
    assert least_mtbf(10_000, 5, 0.95, by_failure=True) == pytest.approx(1092.5, abs=0.06)
    assert mtbf_interval(1600, 2, 0.9) == pytest.approx((254.1, 4502.5), abs=0.06)
    assert mtbf_interval(8760, 1, 0.6) == pytest.approx((2925.6, 39257.2), abs=0.06)
    assert least_mtbf(8760, 1, 0.6) == pytest.approx(4331.7, abs=0.06)


def test_no_failure_is_a_logarithm() -> None:
    """P(no failure in T) = exp(-T / MTBF): closed form. Three days of one object on three benches prove very little."""
    assert least_mtbf(216, 0, 0.9) == pytest.approx(-216 / math.log(0.1))
    assert least_mtbf(216, 0, 0.6) == pytest.approx(235.7, abs=0.05)
    assert math.isinf(mtbf_interval(216, 0, 0.9)[1])
    bound = Bound(0.9, least_mtbf(216, 0, 0.9))
    assert bound.chance(216) == pytest.approx(0.1)


def test_success_runs() -> None:
    """R to the power n = 1 - C: closed form; runs of 0.9, 0.95 and 0.99 at three levels."""
    runs = {0.90: (16, 22, 29), 0.95: (32, 45, 59), 0.99: (161, 230, 299)}
    for success, told in runs.items():
        assert tuple(tries_needed(success, level) for level in (0.8, 0.9, 0.95)) == told
    assert least_success(30, 0.9) ** 30 == pytest.approx(0.1)


@pytest.mark.parametrize("share", [1e-6, 0.05, 0.5, 0.9, 0.999])
@pytest.mark.parametrize("shape", [0.05, 0.5, 1.0, 7.5, 300.0])
def test_gamma_is_that_of_another_library(share: float, shape: float) -> None:
    scipy_stats = pytest.importorskip("scipy.stats")
    other = scipy_stats.gamma.ppf(share, shape)
    assert gamma_quantile(share, shape) == pytest.approx(other, rel=1e-9, abs=1e-290)
    assert gamma_below(float(other), shape) == pytest.approx(share, rel=1e-9)
    assert chi_square_quantile(share, 2 * shape) == pytest.approx(2 * other, rel=1e-9, abs=1e-290)


@pytest.mark.parametrize(("hours", "failures", "confidence"), [(0, 0, 0.9), (10, -1, 0.9), (10, 0, 1.0)])
def test_what_cannot_be_is_refused(hours: float, failures: int, confidence: float) -> None:
    with pytest.raises(OutOfRange):
        least_mtbf(hours, failures, confidence)
    with pytest.raises(OutOfRange):
        least_mtbf(10, 0, 0.9, by_failure=True)
