"""
Cumulative sums of standardised values: they find a small lasting change sooner than any single value shows it.

    above(n) = max(0, above(n - 1) + z(n) - k),  below(n) = max(0, below(n - 1) - z(n) - k)

An alarm is the first n at which one of the two exceeds h. How many values pass on average until then is the *run
length*: long for a steady log, short after a change. Source: E. S. Page's scheme as in the NIST/SEMATECH e-Handbook of
Statistical Methods, 6.3.2.3; run lengths by the integral equation solved on Gauss-Legendre nodes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import OutOfRange

Floats = NDArray[np.float64]

NODES, HALVINGS = 40, 60
"""Nodes of the quadrature, and halvings of the search for a threshold."""
MOST_RUN = 1e7
"""Longest run length for which a threshold is looked for."""
NORMAL = NormalDist()


@dataclass(frozen=True)
class Sums:
    """
    Both sums after every value.

    Args:
        above: Sum that grows when values lie high, shape (n,).
        below: Sum that grows when they lie low, shape (n,).
        alarm: Index of the first value at which one exceeds the threshold, None where none does.
        upwards: Whether it was the first of the two; False where there is no alarm.
        began: Index of the first value of the run that led to the alarm: an estimate of when the change began.
    """

    above: Floats
    below: Floats
    alarm: int | None
    upwards: bool
    began: int | None


def sums(values: ArrayLike, k: float, h: float) -> Sums:
    """
    Both cumulative sums of standardised values.

    Args:
        values: Distance from the target in standard deviations, shape (n,).
        k: Allowance: half the change that is to be found. [standard deviations]
        h: Threshold. [standard deviations]

    >>> found = sums([0.0, 2.0, 2.0, 2.0], k=0.5, h=4.0)
    >>> found.alarm, found.upwards, found.began, found.above.tolist()
    (3, True, 1, [0.0, 1.5, 3.0, 4.5])
    """
    z = np.asarray(values, np.float64)
    above, below = _climb(z - k), _climb(-z - k)
    over = np.flatnonzero((above > h) | (below > h))
    if not len(over):
        return Sums(above, below, None, False, None)
    at = int(over[0])
    upwards = bool(above[at] > h)
    own = above if upwards else below
    still = np.flatnonzero(own[:at] == 0.0)
    return Sums(above, below, at, upwards, int(still[-1]) + 1 if len(still) else 0)


def _climb(steps: Floats) -> Floats:
    """max(0, sum so far), value by value: the walk less its lowest point, counting the start."""
    walk = np.concatenate([[0.0], np.cumsum(steps)])
    return (walk - np.minimum.accumulate(walk))[1:]


@lru_cache(maxsize=4096)
def one_sided_run_length(k: float, h: float, shift: float = 0.0) -> float:
    """
    Mean number of values until one sum, started at 0, exceeds h.

    Args:
        k: Allowance. [standard deviations]
        h: Threshold. [standard deviations]
        shift: Mean of the values. [standard deviations]

    Raises:
        OutOfRange: k below 0 or h not above 0.

    >>> round(one_sided_run_length(0.5, 4.0), 0), round(one_sided_run_length(0.5, 4.0, 1.0), 2)
    (335.0, 8.38)
    """
    if not (k >= 0 and 0 < h < 100 and math.isfinite(shift)):
        raise OutOfRange("Cannot find a run length", f"k = {k}, h = {h}, shift {shift}",
                         "k from 0, h above 0 and below 100", "k is half the change to be found.")  # fmt: skip
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    x, w = h * (nodes + 1) / 2, h * weights / 2
    drift = shift - k
    # L(s) = 1 + L(0) P(z <= -s - drift) + sum of L(x) density(x - s - drift) w
    density = np.exp(-((x[None, :] - x[:, None] - drift) ** 2) / 2) / math.sqrt(2 * math.pi) * w[None, :]
    from_zero = np.exp(-((x - drift) ** 2) / 2) / math.sqrt(2 * math.pi) * w
    down = np.array([NORMAL.cdf(-s - drift) for s in x])
    table = np.zeros((NODES + 1, NODES + 1))
    table[0, 0], table[0, 1:] = NORMAL.cdf(-drift), from_zero
    table[1:, 0], table[1:, 1:] = down, density
    return float(np.linalg.solve(np.eye(NODES + 1) - table, np.ones(NODES + 1))[0])


def run_length(k: float, h: float, shift: float = 0.0) -> float:
    """
    Mean number of values until either of both sums exceeds h: 1/L = 1/L(above) + 1/L(below).

    >>> round(run_length(0.5, 4.0), 0), round(run_length(0.5, 5.0), 0)
    (168.0, 465.0)
    """
    return 1 / (1 / one_sided_run_length(k, h, shift) + 1 / one_sided_run_length(k, h, -shift))


@lru_cache(maxsize=256)
def threshold(k: float, wanted: float) -> float:
    """
    The h at which a steady log gives a false alarm once in so many values on average.

    Args:
        k: Allowance. [standard deviations]
        wanted: Run length between false alarms. [values]

    Raises:
        OutOfRange: A run length that no threshold gives, or one too long.

    >>> round(threshold(0.5, 465.4), 2)
    5.0
    """
    low, high = 1e-3, 1.0
    least = run_length(k, low)
    if not least < wanted <= MOST_RUN:
        raise OutOfRange("Cannot choose a threshold", f"a run length of {wanted:g} values to a false alarm",
                         f"{least:.1f} to {MOST_RUN:.0f} values", "Choose how seldom it may come.")  # fmt: skip
    while run_length(k, high) < wanted:
        high *= 1.5
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if run_length(k, middle) < wanted else (low, middle)
    return (low + high) / 2
