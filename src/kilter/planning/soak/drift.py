"""Drift: the straight line through a log, with its interval, and when it would meet a limit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.student import coverage_factor

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Drift:
    """
    A slope with its interval.

    Args:
        slope: [unit per hour]
        low, high: Ends of its interval. [unit per hour]
        now: The line at the end of the log. [unit]
        until_limit: Hours from the end of the log until the steepest line within the interval meets a limit; None where
            it meets none. [h]
    """

    slope: float
    low: float
    high: float
    now: float
    until_limit: float | None

    @property
    def seen(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low > 0 or self.high < 0


def drift(
    hours: Floats, values: Floats, low: float = -math.inf, high: float = math.inf, confidence: float = 0.95
) -> Drift | None:
    """
    Least squares with Student's interval; None for fewer than three values or none apart in time.

    Args:
        hours: Shape (n,). [h]
        values: Independent of one another, shape (n,).
        low, high: Limits that it may not meet. [unit]
        confidence: Of the interval.

    Source: NIST/SEMATECH e-Handbook, 4.1.4.1 (least squares); standard error of a slope, any textbook.
    """
    at = hours - hours.mean() if len(hours) else hours
    width = float(at @ at)
    if len(hours) < 3 or width <= 0:
        return None
    slope = float(at @ values) / width
    left = values - values.mean() - slope * at
    half = coverage_factor(len(hours) - 2, confidence) * math.sqrt(float(left @ left) / (len(hours) - 2) / width)
    now = float(values.mean()) + slope * float(at[-1])
    return Drift(slope, slope - half, slope + half, now, _until(now, slope - half, slope + half, low, high))


def _until(now: float, least: float, most: float, low: float, high: float) -> float | None:
    waits = []
    if most > 0 and math.isfinite(high):
        waits.append(max(0.0, (high - now) / most))
    if least < 0 and math.isfinite(low):
        waits.append(max(0.0, (low - now) / least))
    return min(waits) if waits else None
