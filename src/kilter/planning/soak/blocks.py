"""Values that follow one another closely tell the same thing twice: means of blocks that no longer do."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Blocks:
    """
    Means of values that follow one another.

    Args:
        means: Of the quantity, shape (m,).
        hours: Middle of each block from switching on, shape (m,). [h]
        size: Values in a block.
        correlation: Of one block with the next, in the stretch where it was looked for.
        apart: Whether that is little enough for blocks to count as independent.
    """

    means: Floats
    hours: Floats
    size: int
    correlation: float
    apart: bool


def independent_blocks(values: Floats, hours: Floats, share: float, least: int) -> Blocks:
    """
    The shortest blocks whose means hang together no more than chance allows.

    Correlation is looked for in the first share of the log only, about a straight line, so that a change later on is
    not mistaken for it. Two standard deviations of the correlation of as many independent values are allowed.

    Args:
        values: Shape (n,).
        hours: Shape (n,), ascending. [h]
        share: Of the log in which it is looked for.
        least: Blocks in that share at least; where longer blocks would leave fewer, it stays with those it has.

    Source: large-sample standard error of the autocorrelation, NIST/SEMATECH e-Handbook, 1.3.3.1.
    """
    size = 1
    while True:
        means, middle = _means(values, size), _means(hours, size)
        looked_at = means[: max(int(len(means) * share), min(least, len(means)))]
        found = lag_one(looked_at)
        apart = abs(found) <= 2 / math.sqrt(len(looked_at)) if len(looked_at) >= least else False
        if apart or len(values) // (2 * size) * share < least:
            return Blocks(means, middle, size, found, apart)
        size *= 2


def lag_one(values: Floats) -> float:
    """
    Correlation of values with those that follow them, about the straight line through all of them; 0 for a flat log.

    >>> round(lag_one(np.array([1.0, -1.0] * 50)), 2)
    -0.99
    """
    if len(values) < 4:
        return 0.0
    at = np.arange(len(values)) - (len(values) - 1) / 2
    left = values - values.mean() - at * (at @ values) / (at @ at)
    whole = float(left @ left)
    if whole <= 1e-24 * float(values @ values):
        return 0.0
    return float(left[1:] @ left[:-1]) / whole


def _means(values: Floats, size: int) -> Floats:
    whole = len(values) // size
    result: Floats = values[: whole * size].reshape(whole, size).mean(axis=1)
    return result
