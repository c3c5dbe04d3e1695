"""What one more healthy board would read, from few: Student's t with a supposed spread as its start."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from kilter.measure.student import coverage_factor

CONFIDENCE = 0.95
"""Level at which the normal distribution handed on has the same interval as Student's."""


@dataclass(frozen=True, slots=True)
class NextBoard:
    """
    The distribution of one more healthy board's reading: mean + scale · t(dof). [scaled]

    Args:
        mean: Of the boards that were read.
        scale: Of Student's distribution.
        dof: Its degrees of freedom.
        boards: How many were read.
    """

    mean: float
    scale: float
    dof: float
    boards: int

    @property
    def spread(self) -> float:
        """Standard deviation of the normal distribution with the same 95 % interval."""
        return self.scale * coverage_factor(self.dof, CONFIDENCE) / coverage_factor(math.inf, CONFIDENCE)


def next_board(values: Sequence[float], meter: float, supposed: float, weight: float) -> NextBoard:
    """
    What one more healthy board would read.

    Args:
        values: Reading of each known-good board. [scaled]
        meter: Standard uncertainty of one such reading; it shifts the mean. [scaled]
        supposed: Standard deviation over healthy boards supposed beforehand. [scaled]
        weight: Degrees of freedom that the supposed one is worth; 0 leaves the boards alone to tell, which takes two.

    Source: normal model with unknown mean and variance, flat prior of the mean and a scaled inverse chi-square prior of
    the variance; the predictive distribution is Student's (textbook result; checked by integration in the tests).

    >>> few, many = next_board([5.0, 5.1], 0.0, 0.05, 3.0), next_board([5.0, 5.1] * 20, 0.0, 0.05, 3.0)
    >>> few.spread > many.spread, few.mean == many.mean
    (True, True)
    """
    count = len(values)
    mean = math.fsum(values) / count
    dof = weight + count - 1
    variance = (weight * supposed**2 + math.fsum((v - mean) ** 2 for v in values)) / dof
    return NextBoard(mean, math.sqrt(variance * (1 + 1 / count) + meter**2 / count), dof, count)
