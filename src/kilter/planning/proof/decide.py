"""
The decision rule: a reading is accepted, rejected, or does not tell, by the chance that the true value lies within.

The true value is taken as normal about the reading with the standard uncertainty of the measurement. Accepted where it
lies within the limits with a chance of at least 1 - risk; rejected where it lies on the inner side of one limit with at
most that risk. Between the two, on either side of each limit, stands a *guard band* in which this instrument cannot
tell. An instrument far too coarse for narrow limits so neither accepts nor rejects, although the chance to lie between
them is small wherever it points.

Source: JCGM 106:2012, 7.2 to 8.3 (conformance probability, guarded acceptance and guarded rejection).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from kilter.measure.errors import OutOfRange

NORMAL = NormalDist()
ACCEPTED, REJECTED, CANNOT_TELL, OPEN = "accepted", "rejected", "cannot tell", "open"
HALVINGS = 80


@dataclass(frozen=True)
class Decision:
    """
    What a reading says about its limits.

    Args:
        verdict: ACCEPTED, REJECTED or CANNOT_TELL.
        chance: That the true value lies within the limits: the conformance probability.
        largest_uncertainty: Standard uncertainty with which the same reading would have decided; 0 on a limit itself,
            infinite without limits. [unit of the reading]
    """

    verdict: str
    chance: float
    largest_uncertainty: float


def conformance(value: float, uncertainty: float, low: float, high: float) -> float:
    """
    Chance that the true value lies within the limits.

    Args:
        value: As read.
        uncertainty: Standard uncertainty; 0 compares the reading itself, a limit counted in.
        low, high: Limits, infinite where there is none.

    >>> round(conformance(-5.47, 0.05, float("-inf"), -5.40), 2)
    0.92
    """
    _check(uncertainty, low, high)
    if uncertainty == 0:
        return float(low <= value <= high)
    upper, lower = (high - value) / uncertainty, (low - value) / uncertainty
    if lower > 0:  # both on one side: the difference of the small tails keeps its digits
        return NORMAL.cdf(-lower) - NORMAL.cdf(-upper)
    return NORMAL.cdf(upper) - NORMAL.cdf(lower)


def decide(value: float, uncertainty: float, low: float, high: float, risk: float) -> Decision:
    """
    Accepts, rejects, or says that one cannot tell.

    Args:
        value: As read.
        uncertainty: Standard uncertainty.
        low, high: Limits, infinite where there is none.
        risk: Most chance of a wrong verdict, below one half.

    Raises:
        OutOfRange: A risk or an uncertainty that cannot be, or a low limit above the high one.

    >>> decide(5.20, 0.02, 4.75, 5.25, 0.05).verdict, decide(5.24, 0.02, 4.75, 5.25, 0.05).verdict
    ('accepted', 'cannot tell')
    """
    _check_risk(risk)
    chance = conformance(value, uncertainty, low, high)
    inner = min(conformance(value, uncertainty, low, math.inf), conformance(value, uncertainty, -math.inf, high))
    verdict = ACCEPTED if chance >= 1 - risk else REJECTED if inner <= risk else CANNOT_TELL
    return Decision(verdict, chance, _largest(value, low, high, risk))


def acceptance_interval(uncertainty: float, low: float, high: float, risk: float) -> tuple[float, float] | None:
    """
    Readings that are accepted: the limits less a guard band; None where this instrument can accept no reading.

    >>> [round(one, 3) for one in acceptance_interval(0.02, 4.75, 5.25, 0.05)]
    [4.783, 5.217]
    """
    _check_risk(risk)
    _check(uncertainty, low, high)
    band = NORMAL.inv_cdf(1 - risk) * uncertainty
    if math.isinf(low) or math.isinf(high):
        return low + band, high - band
    middle = (low + high) / 2
    if conformance(middle, uncertainty, low, high) < 1 - risk:
        return None
    inside, outside = middle, high
    for _ in range(HALVINGS):
        at = (inside + outside) / 2
        inside, outside = (at, outside) if conformance(at, uncertainty, low, high) >= 1 - risk else (inside, at)
    return low + (high - inside), inside


def _largest(value: float, low: float, high: float, risk: float) -> float:
    """The largest uncertainty that decides: outside by the nearer limit alone, inside by both."""
    away = min(value - low, high - value)
    one_sided = abs(away) / NORMAL.inv_cdf(1 - risk)
    if away <= 0 or math.isinf(low) or math.isinf(high):
        return one_sided
    small, large = 0.0, one_sided
    for _ in range(HALVINGS):
        at = (small + large) / 2
        small, large = (at, large) if conformance(value, at, low, high) >= 1 - risk else (small, at)
    return small


def _check(uncertainty: float, low: float, high: float) -> None:
    if not (0 <= uncertainty < math.inf and low < high):
        raise OutOfRange("Cannot hold a reading against limits",
                         f"an uncertainty of {uncertainty:g} and limits {low:g} and {high:g}",
                         "an uncertainty from 0, a low limit below the high one", "Correct the limits.")  # fmt: skip


def _check_risk(risk: float) -> None:
    if not 0 < risk < 0.5:
        raise OutOfRange("Cannot hold a reading against limits", f"a risk of {risk:g}", "above 0, below 0.5",
                         "5 % is written 0.05.")  # fmt: skip
