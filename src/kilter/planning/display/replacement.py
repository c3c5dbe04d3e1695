"""
Replace at an age, or wait for the failure: the age at which the cost per year is least, if there is one.

Cost per year of replacing at age T: (planned x S(T) + failure x (1 - S(T))) / (integral of S from 0 to T), by the
renewal-reward theorem. Where a planned replacement costs as much as a failure, or the part does not wear,
waiting is best.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import OutOfRange

Floats = NDArray[np.float64]
Survival = Callable[[Floats], Floats]

GRID, FINE = 4000, 60
"""Points of the search, and steps that sharpen its best one."""
FARTHEST = 1e-8
"""Share that still lives where the search ends."""


@dataclass(frozen=True)
class Replacement:
    """
    The best age.

    Args:
        age: At which to replace; infinite for waiting. [unit of the survival's argument]
        cost: Per unit of time at that age.
        waiting: Per unit of time if one waits.
    """

    age: float
    cost: float
    waiting: float

    @property
    def saved(self) -> float:
        """Share of the cost of waiting that it saves."""
        return 1 - self.cost / self.waiting


def best_age(survival: Survival, planned: float, failure: float) -> Replacement:
    """
    The age at which replacing costs least.

    Args:
        survival: Share of new parts that lives on at ages, shape (n,) to (n,).
        planned: Cost of a planned replacement, heritage counted in.
        failure: Cost of a failure and its replacement.

    Raises:
        OutOfRange: A cost that is not above 0.

    >>> found = best_age(lambda t: np.exp(-(t**2)), 1.0, 5.0)
    >>> round(found.age, 3), round(found.cost, 4), round(found.waiting, 4)
    (0.511, 4.0852, 5.6419)
    """
    if not (0 < planned < math.inf and 0 < failure < math.inf):
        raise OutOfRange("Cannot find an age to replace at", f"costs of {planned:g} and {failure:g}", "both above 0",
                         "Give both in the same unit.")  # fmt: skip
    end = 1.0
    while float(survival(np.array([end]))[0]) > FARTHEST:
        end *= 1.5
    while float(survival(np.array([end / 1.5]))[0]) <= FARTHEST:
        end /= 1.5
    ages = np.linspace(0.0, end, GRID + 1)
    lives, area = survival(ages), _area(survival, ages)
    waiting = failure / float(area[-1])
    with np.errstate(divide="ignore"):
        costs = (planned * lives + failure * (1 - lives))[1:] / area[1:]
    at = int(np.argmin(costs)) + 1
    if planned >= failure or costs[at - 1] >= waiting * (1 - 1e-6) or at == GRID:
        return Replacement(math.inf, waiting, waiting)
    fine = np.linspace(ages[at - 1], ages[at + 1], FINE + 1)
    sharp = _area(survival, fine) + area[at - 1]
    near = (planned * survival(fine) + failure * (1 - survival(fine)))[1:] / sharp[1:]
    best = int(np.argmin(near))
    return Replacement(float(fine[best + 1]), float(near[best]), waiting)


def _area(survival: Survival, ages: Floats) -> Floats:
    """Integral from the first age to each, by Simpson's rule on every step."""
    step = np.diff(ages)
    middle = survival((ages[:-1] + ages[1:]) / 2)
    lives = survival(ages)
    return np.concatenate([[0.0], np.cumsum(step * (lives[:-1] + 4 * middle + lives[1:]) / 6)])
