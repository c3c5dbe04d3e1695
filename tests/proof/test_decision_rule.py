"""
The decision rule and its risks against JCGM 106:2012 and quadrature by another library.

JCGM 106:2012, section 7, one-sided examples: a diode's breakdown voltage of -5.47 V with u = 0.05 V and a limit of
-5.40 V conforms with 0.92; a burst strength of 509.7 kPa with u = 8.6 kPa and a limit of 490 kPa with 0.99 (both from
memory, and equal to the normal distribution). Section 9, the resistors: 1500 ohm within 0.2 ohm, made with 0.12 ohm and
measured with 0.04 ohm; its risks are worked out here by quadrature of another library.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kilter.measure.errors import OutOfRange
from kilter.planning.proof.decide import (
    ACCEPTED,
    CANNOT_TELL,
    REJECTED,
    acceptance_interval,
    conformance,
    decide,
)
from kilter.planning.proof.risk import chance_accepted, risks

INF = math.inf


def test_worked_examples_of_the_guide() -> None:
    assert conformance(-5.47, 0.05, -INF, -5.40) == pytest.approx(0.92, abs=0.005)
    assert conformance(509.7, 8.6, 490.0, INF) == pytest.approx(0.99, abs=0.005)


@pytest.mark.parametrize(("value", "u", "low", "high"), [
    (5.0, 0.1, 4.75, 5.25), (5.24, 0.02, 4.75, 5.25), (7.0, 0.3, 4.75, 5.25), (0.0, 2.0, -1.0, 1.0),
    (3.0, 0.5, 2.0, INF),
])  # fmt: skip
def test_conformance_is_that_of_another_library(value: float, u: float, low: float, high: float) -> None:
    norm = pytest.importorskip("scipy.stats").norm
    other = norm.cdf(high, value, u) - norm.cdf(low, value, u)
    assert conformance(value, u, low, high) == pytest.approx(other, abs=1e-12)


def test_three_verdicts_and_the_guard_band() -> None:
    """One-sided the guard band is z(0.95) = 1.644854 standard uncertainties (any table of the normal distribution)."""
    limit, u = 10.0, 0.1
    inside, outside = limit - 1.6448 * u, limit + 1.6448 * u
    assert decide(inside - 0.001, u, -INF, limit, 0.05).verdict == ACCEPTED
    assert decide(inside + 0.001, u, -INF, limit, 0.05).verdict == CANNOT_TELL
    assert decide(outside - 0.001, u, -INF, limit, 0.05).verdict == CANNOT_TELL
    assert decide(outside + 0.001, u, -INF, limit, 0.05).verdict == REJECTED
    accepts = acceptance_interval(u, -INF, limit, 0.05)
    assert accepts is not None
    assert accepts[1] == pytest.approx(limit - 1.644854 * u, abs=1e-6)


def test_guard_band_of_the_expanded_uncertainty() -> None:
    """A guard band of U = 2 u leaves a risk of 2.3 % (JCGM 106:2012, 8.3.2, and a table of the normal distribution)."""
    accepts = acceptance_interval(0.05, -INF, 1.0, 0.02275013)
    assert accepts is not None
    assert accepts[1] == pytest.approx(1.0 - 2 * 0.05, abs=1e-7)


@pytest.mark.parametrize("u", [0.001, 0.02, 0.08, 0.12])
def test_the_acceptance_interval_is_where_the_rule_accepts(u: float) -> None:
    ends = acceptance_interval(u, 4.75, 5.25, 0.05)
    assert ends is not None
    for end, inwards in zip(ends, (1, -1), strict=True):
        assert decide(end + inwards * 1e-9, u, 4.75, 5.25, 0.05).verdict == ACCEPTED
        assert decide(end - inwards * 1e-6, u, 4.75, 5.25, 0.05).verdict == CANNOT_TELL


def test_an_instrument_too_poor_accepts_nothing() -> None:
    """Where even the middle lies within with erf(0.25 / (0.2 sqrt 2)) = 0.789."""
    assert acceptance_interval(0.2, 4.75, 5.25, 0.05) is None
    assert decide(5.0, 0.2, 4.75, 5.25, 0.05).verdict == CANNOT_TELL


@pytest.mark.parametrize("value", [4.76, 5.0, 5.2, 5.3, 6.0])
def test_the_largest_uncertainty_is_where_the_verdict_turns(value: float) -> None:
    turn = decide(value, 0.1, 4.75, 5.25, 0.05).largest_uncertainty
    assert decide(value, turn * 0.999, 4.75, 5.25, 0.05).verdict in (ACCEPTED, REJECTED)
    assert decide(value, turn * 1.001, 4.75, 5.25, 0.05).verdict == CANNOT_TELL


def test_an_instrument_too_coarse_rejects_nothing_that_it_cannot_see() -> None:
    """Limits of 0.2 and an uncertainty of 1.7: the chance to lie between is below 5 % by the width alone."""
    assert conformance(0.58, 1.7, 0.5, 0.7) < 0.05
    assert decide(0.58, 1.7, 0.5, 0.7, 0.05).verdict == CANNOT_TELL
    assert decide(0.7 + 1.65 * 1.7, 1.7, 0.5, 0.7, 0.05).verdict == REJECTED


def test_on_a_limit_no_instrument_decides() -> None:
    assert decide(5.25, 0.0001, 4.75, 5.25, 0.05).largest_uncertainty == 0
    assert decide(5.25, 0.0001, 4.75, 5.25, 0.05).verdict == CANNOT_TELL


@pytest.mark.parametrize("guard", [-0.04, 0.0, 0.04, 0.08])
def test_global_risks_are_those_of_quadrature(guard: float) -> None:
    scipy = pytest.importorskip("scipy")
    norm, quad = pytest.importorskip("scipy.stats").norm, scipy.integrate.quad
    low, high = 1499.8, 1500.2
    accepts = (low + guard, high - guard)

    def accepted(y: float) -> float:
        return float(norm.cdf((accepts[1] - y) / 0.04) - norm.cdf((accepts[0] - y) / 0.04))

    outside = sum(quad(lambda y: norm.pdf(y, 1500, 0.12) * accepted(y), *ends)[0]
                  for ends in ((1499.0, low), (high, 1501.0)))  # fmt: skip
    inside = quad(lambda y: norm.pdf(y, 1500, 0.12) * (1 - accepted(y)), low, high)[0]
    found = risks(1500, 0.12, 0.04, (low, high), accepts)
    assert found.consumer == pytest.approx(outside, rel=1e-6)
    assert found.producer == pytest.approx(inside, rel=1e-6)


def test_a_guard_band_trades_one_risk_for_the_other() -> None:
    found = [risks(0, 1, 0.2, (-2, 2), (-2 + band, 2 - band)) for band in (-0.2, 0.0, 0.2)]
    assert found[0].consumer > found[1].consumer > found[2].consumer
    assert found[0].producer < found[1].producer < found[2].producer


def test_chance_accepted_is_the_normal_distribution() -> None:
    """One standard deviation on either side holds 68.27 %."""
    assert chance_accepted(0.0, 2.0, (-2.0, 2.0)) == pytest.approx(0.682689, abs=1e-6)
    assert chance_accepted(3.0, 0.0, (-2.0, 2.0)) == 0.0


def test_wrong_verdicts_are_as_seldom_as_promised() -> None:
    """Drawn true values, flat over and beyond the limits: of those accepted at most 5 % lie outside, and the like."""
    random = np.random.default_rng(8)
    true = random.uniform(4.0, 6.0, 20_000)
    read = true + random.normal(0, 0.1, len(true))
    verdicts = [decide(float(one), 0.1, 4.75, 5.25, 0.05).verdict for one in read]
    within = (true >= 4.75) & (true <= 5.25)
    accepted, rejected = (np.array([one == which for one in verdicts]) for which in (ACCEPTED, REJECTED))
    assert np.mean(~within[accepted]) < 0.05
    assert np.mean(within[rejected]) < 0.05
    # accepted are readings on (0.5 - 2 x 1.645 x 0.1) V of the 2 V drawn from, by hand
    assert np.mean(accepted) == pytest.approx(0.0855, abs=0.006)
    assert np.mean(rejected) == pytest.approx(1 - (0.5 + 2 * 0.1645) / 2, abs=0.011)


@pytest.mark.parametrize(
    ("u", "low", "high", "risk"), [(-1, 0, 1, 0.05), (0.1, 1, 0, 0.05), (0.1, 0, 1, 0.5), (0.1, 0, 1, 0)]
)
def test_what_cannot_be_is_refused(u: float, low: float, high: float, risk: float) -> None:
    with pytest.raises(OutOfRange):
        decide(0.5, u, low, high, risk)
    with pytest.raises(OutOfRange):
        risks(0, 0, 0.1, (0, 1), (0, 1))
