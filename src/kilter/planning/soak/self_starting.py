"""
Standardise a log with no baseline to trust: every value is measured by those before it.

The distance of a value from the mean of all earlier ones, over their standard deviation, follows Student's distribution
exactly, however few they are; turned into a normal one it gives values that are independent, of mean 0 and standard
deviation 1, as long as nothing changes. A run length then holds from the third value on, where limits taken from
a short baseline do not keep it (benchmarks/change_detection.py has the figures). Source: D. M. Hawkins's self-starting
scheme (from memory); the tests check independence and run length by simulation.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.beta import beta_share

Floats = NDArray[np.float64]

FIRST = 2
"""Values that only serve those after them."""
MANY = 100
"""Degrees of freedom from which an approximation is good to a thousandth of a standard deviation."""
FARTHEST = 8.0
"""Largest distance told; beyond it the chance is below 1e-15. [standard deviations]"""
NORMAL = NormalDist()


def standardised(values: ArrayLike, least_spread: float = 0.0) -> Floats:
    """
    Values as independent standard normal ones, as long as nothing changes.

    Args:
        values: Independent and of one normal distribution while nothing changes, shape (n,).
        least_spread: Standard deviation that is not undercut: what the last digit of the meter leaves open.

    Returns:
        Shape (n,); 0 for the first two, and while nothing has moved at all.
    """
    x = np.asarray(values, np.float64)
    count = np.arange(1, len(x) + 1)
    centre = x[:1].sum()  # sums about the first value lose no digits
    first, second = np.cumsum(x - centre), np.cumsum((x - centre) ** 2)
    found = np.zeros(len(x))
    for n in range(FIRST, len(x)):
        mean = first[n - 1] / n
        variance = max(0.0, (second[n - 1] - n * mean**2) / (n - 1))
        spread = max(math.sqrt(variance), least_spread)
        away = x[n] - centre - mean
        if spread > 0:
            t = away / spread * math.sqrt(n / count[n])
            found[n] = normal_of_t(t, n - 1)
        elif away:
            found[n] = math.copysign(FARTHEST, away)
    return found


def normal_of_t(t: float, dof: float) -> float:
    """
    The standard normal value that is as rare as a value of Student's distribution.

    Source: definition; from 100 degrees of freedom on D. L. Wallace's approximation, checked against another library.

    >>> round(normal_of_t(12.706, 1), 3), round(normal_of_t(-1.984, 100), 3)
    (1.96, -1.96)
    """
    if dof >= MANY:
        size = (8 * dof + 1) / (8 * dof + 3) * math.sqrt(dof * math.log1p(t * t / dof))
    else:
        x = dof / (dof + t * t)
        inside = beta_share(1 - x, 0.5, dof / 2) if x > (dof / 2 + 1) / (dof / 2 + 2.5) else None
        tail = (1 - inside) / 2 if inside is not None else beta_share(x, dof / 2, 0.5) / 2
        size = -NORMAL.inv_cdf(tail) if tail > 1e-300 else FARTHEST
    return math.copysign(min(size, FARTHEST), t)
