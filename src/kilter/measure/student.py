"""Student's t distribution: the coverage factor for few degrees of freedom."""

from __future__ import annotations

from functools import lru_cache
from statistics import NormalDist

from kilter.measure.beta import beta_share
from kilter.measure.errors import OutOfRange

MANY = 1000.0
"""Degrees of freedom from which the series about the normal distribution is good to nine digits."""


@lru_cache(maxsize=1024)
def coverage_factor(dof: float, confidence: float = 0.95) -> float:
    """
    Half-width of the central interval in standard uncertainties: t such that P(-t < T < t) = confidence.

    Args:
        dof: Degrees of freedom, not necessarily whole; infinite for the normal distribution.
        confidence: Between 0 and 1.

    Raises:
        OutOfRange: Degrees of freedom not above zero, or confidence not between 0 and 1.

    Source: definition of the distribution; checked against table B.1 of NIST Technical Note 1297 and another library.

    >>> round(coverage_factor(16, 0.99), 2), round(coverage_factor(float("inf")), 2)
    (2.92, 1.96)
    """
    if not (dof > 0 and 0 < confidence < 1):
        raise OutOfRange(
            "Cannot find a coverage factor",
            f"{dof} degrees of freedom and a confidence of {confidence}",
            "degrees of freedom above 0, confidence between 0 and 1",
            "Check the number of repeats; 95 % is written 0.95.",
        )
    normal = NormalDist().inv_cdf((1 + confidence) / 2)
    return _near_normal(normal, dof) if dof >= MANY else _by_halving(dof, 1 - confidence, normal)


def _near_normal(z: float, dof: float) -> float:
    """First terms of the Cornish-Fisher series (Abramowitz and Stegun, 26.7.5)."""
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    return z + first / dof + second / dof**2 + third / dof**3


def _by_halving(dof: float, outside: float, low: float) -> float:
    """The factor between the normal one, which is always smaller, and a bound found by doubling."""
    high = max(1.0, 2 * low)
    while _two_sided_tail(high, dof) > outside and high < 1e300:
        high *= 2
    for _ in range(200):
        middle = (low + high) / 2
        if middle in {low, high}:
            break
        low, high = (middle, high) if _two_sided_tail(middle, dof) > outside else (low, middle)
    return (low + high) / 2


def _two_sided_tail(t: float, dof: float) -> float:
    """P(|T| > t) = I(x; dof/2, 1/2) with x = dof / (dof + t²) (Abramowitz and Stegun, 26.7.1 and 26.5.27)."""
    x = 1 / (1 + t / dof * t)
    if x < (dof / 2 + 1) / (dof / 2 + 2.5):
        return beta_share(x, dof / 2, 0.5)
    return 1 - beta_share(1 - x, 0.5, dof / 2)
