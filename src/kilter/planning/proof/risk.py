"""
The risks of a test before it is done: that it accepts what is outside its limits, and that it refuses what is within.

Source: JCGM 106:2012, 9.3 (global consumer's and producer's risk), for a normal prior and a normal measurement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import OutOfRange

Floats = NDArray[np.float64]
NODES, REACH = 40, 9.0
"""Nodes on each panel of the quadrature, and how far it reaches. [standard deviations]"""


@dataclass(frozen=True)
class Risks:
    """
    Shares of all objects tested.

    Args:
        consumer: Outside the limits, and accepted.
        producer: Within them, and refused.
    """

    consumer: float
    producer: float


def risks(
    mean: float, spread: float, uncertainty: float, limits: tuple[float, float], accepts: tuple[float, float]
) -> Risks:
    """
    Risks of a test.

    Args:
        mean, spread: Of the true values over all objects tested.
        uncertainty: Standard uncertainty of the measurement.
        limits: Between which a value conforms, infinite where there is none.
        accepts: Readings that are accepted, infinite where there is no end.

    Raises:
        OutOfRange: A spread or uncertainty that is not above 0.

    >>> found = risks(1500, 0.12, 0.04, (1499.8, 1500.2), (1499.8, 1500.2))
    >>> round(found.consumer, 3), round(found.producer, 3)
    (0.019, 0.037)
    """
    if not (spread > 0 and uncertainty > 0):
        raise OutOfRange("Cannot work out the risks of a test", f"a spread of {spread:g} and an uncertainty of "
                         f"{uncertainty:g}", "both above 0", "Give both.")  # fmt: skip
    at, weight = _nodes(mean, spread, uncertainty, (*limits, *accepts))
    there = weight * np.exp(-(((at - mean) / spread) ** 2) / 2) / (spread * math.sqrt(2 * math.pi))
    accepted = _cdf((accepts[1] - at) / uncertainty) - _cdf((accepts[0] - at) / uncertainty)
    within = (at >= limits[0]) & (at <= limits[1])
    consumer = float((there * accepted)[~within].sum())
    producer = float((there * (1 - accepted))[within].sum())
    return Risks(consumer, producer)


def chance_accepted(mean: float, spread: float, accepts: tuple[float, float]) -> float:
    """
    Chance that a reading of this mean and spread is accepted: of a fault that is still there, that it slips through.

    >>> round(chance_accepted(5.0, 1.0, (4.0, 6.0)), 3)
    0.683
    """
    if spread <= 0:
        return float(accepts[0] <= mean <= accepts[1])
    ends = _cdf((np.array(accepts) - mean) / spread)
    return float(ends[1] - ends[0])


def _nodes(mean: float, spread: float, uncertainty: float, edges: tuple[float, ...]) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes on panels that end where the integrand bends."""
    low, high = mean - REACH * spread, mean + REACH * spread
    steps = np.arange(-REACH, REACH + 1)
    marks = [mean + steps * spread, *(edge + steps * uncertainty for edge in edges if math.isfinite(edge))]
    ends = np.unique(np.clip(np.concatenate([*marks, [e for e in edges if math.isfinite(e)]]), low, high))
    x, w = np.polynomial.legendre.leggauss(NODES)
    half, middle = np.diff(ends) / 2, (ends[:-1] + ends[1:]) / 2
    return (middle[:, None] + half[:, None] * x).ravel(), (half[:, None] * w).ravel()


def _cdf(z: Floats) -> Floats:
    return np.array([0.5 * math.erfc(-one / math.sqrt(2)) for one in np.ravel(z)])
