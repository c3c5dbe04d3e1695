"""
What hours with few failures or none prove: the least mean time between failures (MTBF) that fits them.

All of it supposes that failures come at an even rate, which neither infancy after a repair nor wear obeys; it is a
bound from the hours alone, and few hours prove little. Source: NIST/SEMATECH e-Handbook, 8.4.5.1 (chi-square
intervals) and 8.3.1.1 (length of tests).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from kilter.measure.errors import OutOfRange
from kilter.measure.gamma import chi_square_quantile

DOING = "Cannot say what a soak proves"


@dataclass(frozen=True)
class Bound:
    """
    What was proved at one level of confidence.

    Args:
        confidence: One-sided.
        least: MTBF that the hours prove. [h]
    """

    confidence: float
    least: float

    def chance(self, hours: float) -> float:
        """
        Least chance of so many further hours without failure, at that confidence.

        >>> round(Bound(0.9, 93.8).chance(8.0), 3)
        0.918
        """
        return math.exp(-hours / self.least)


def least_mtbf(hours: float, failures: int, confidence: float, *, by_failure: bool = False) -> float:
    """
    One-sided lower bound of the MTBF. [h]

    Args:
        hours: Hours of all objects together.
        failures: That came in them.
        confidence: One-sided, between 0 and 1.
        by_failure: The test was ended by its last failure, not by the clock.

    >>> round(least_mtbf(216, 0, 0.9), 1)
    93.8
    """
    _check(hours, failures, confidence)
    if by_failure and not failures:
        raise OutOfRange(DOING, "a test ended by a failure, and no failure", "1 failure or more", "Count it.")
    if not failures:
        return hours / -math.log(1 - confidence)
    return 2 * hours / chi_square_quantile(confidence, 2 * failures + (0 if by_failure else 2))


def mtbf_interval(
    hours: float, failures: int, confidence: float, *, by_failure: bool = False
) -> tuple[float, float]:
    """
    Two-sided interval of the MTBF; without a failure it has no upper end. [h]

    >>> [round(one) for one in mtbf_interval(800, 2, 0.9)]
    [127, 2251]
    """
    _check(hours, failures, confidence)
    half = (1 + confidence) / 2
    upper = 2 * hours / chi_square_quantile(1 - half, 2 * failures) if failures else math.inf
    return least_mtbf(hours, failures, half, by_failure=by_failure), upper


def hours_needed(mtbf: float, failures: int, confidence: float) -> float:
    """
    Hours that prove an MTBF with no more than so many failures. [h]

    >>> round(hours_needed(1000, 0, 0.9))
    2303
    """
    _check(mtbf, failures, confidence)
    return mtbf * mtbf / least_mtbf(mtbf, failures, confidence)


def least_success(tries: int, confidence: float) -> float:
    """
    Least chance of success that so many tries without a failure prove: of switching on, of loading a tape.

    Source: (1 - confidence) ** (1 / tries), from the binomial distribution.

    >>> round(least_success(22, 0.9), 2)
    0.9
    """
    _check(float(tries), 0, confidence)
    return math.exp(math.log1p(-confidence) / tries)


def tries_needed(success: float, confidence: float) -> int:
    """
    Tries without a failure that prove a chance of success.

    >>> tries_needed(0.9, 0.9), tries_needed(0.99, 0.95)
    (22, 299)
    """
    _check(1.0, 0, confidence)
    if not 0 < success < 1:
        raise OutOfRange(DOING, f"a chance of success of {success}", "between 0 and 1", "90 % is written 0.9.")
    return math.ceil(math.log1p(-confidence) / math.log(success) - 1e-9)


def _check(hours: float, failures: int, confidence: float) -> None:
    if not (0 < hours < math.inf and failures >= 0 and 0 < confidence < 1):
        raise OutOfRange(DOING, f"{hours:g} h or tries, {failures} failures, a confidence of {confidence:g}",
                         "above 0, failures from 0, a confidence between 0 and 1", "90 % is written 0.9.")  # fmt: skip
