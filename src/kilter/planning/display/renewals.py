"""
How often a place needs a new part within years: each failure is answered by a new part.

The time of the n-th failure is a sum of lives; their distributions are added on a grid of equal steps, the share of
each step put on its two ends alike, so that means are kept and the error falls with the square of the step.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Survival = Callable[[Floats], Floats]

STEPS = 800
"""Steps of the grid."""
RARE = 1e-9
"""Chance of more failures that is left out."""
MOST = 400
"""Failures of one place at most."""


def failures(first: Survival, later: Survival, years: float, steps: int = STEPS) -> Floats:
    """
    Chance of 0, 1, 2, ... failures within years.

    Args:
        first: Share of the present part that lives on after so many years.
        later: The same for a new part.
        years: To look ahead.
        steps: Of the grid.

    Returns:
        Shape (n,), adding up to 1.

    >>> from math import exp
    >>> even = lambda t: np.exp(-0.5 * t)
    >>> chances = failures(even, even, 4.0)
    >>> bool(abs(chances[1] - 2 * exp(-2)) < 1e-4)
    True
    """
    grid = np.arange(steps + 2, dtype=np.float64) * (years / steps)  # one step more: the last end whole
    arrival, life = _on_ends(first(grid)), _on_ends(later(grid))
    at_least = [1.0]
    while len(at_least) <= MOST:
        within = float(arrival[:-2].sum() + 0.5 * arrival[-2])  # what sits on the end is half beyond it
        at_least.append(within)
        if within < RARE:
            break
        arrival = np.convolve(arrival, life)[: steps + 2]
    found = -np.diff(np.array(at_least))
    chances = np.append(np.maximum(found, 0.0), at_least[-1])
    result: Floats = chances / chances.sum()
    return result


def _on_ends(survival: Floats) -> Floats:
    share = -np.diff(survival)
    ends = np.zeros(len(survival))
    ends[:-1] += share / 2
    ends[1:] += share / 2
    return ends


def several(chances: Floats, places: int) -> Floats:
    """
    The same for so many independent places together.

    >>> several(np.array([0.5, 0.5]), 2).tolist()
    [0.25, 0.5, 0.25]
    """
    result, power = np.array([1.0]), chances
    while places:
        if places & 1:
            result = _trim(np.convolve(result, power))
        places >>= 1
        if places:
            power = _trim(np.convolve(power, power))
    return result


def _trim(chances: Floats) -> Floats:
    """Without a tail too rare to matter."""
    tail = np.cumsum(chances[::-1])[::-1]
    return chances[: max(1, int(np.searchsorted(-tail, -RARE * 1e-3)))]
