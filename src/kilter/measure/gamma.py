"""The gamma distribution: what is known about a rate after so many events, and chi-square with it."""

from __future__ import annotations

import math

from kilter.measure.errors import OutOfRange

SETTLED, MOST = 1e-15, 100_000
"""Relative size of the last term that counts, and most terms."""
TINY, HALVINGS = 1e-300, 70
"""Least quantile, and halvings of its logarithm that settle it to double precision."""


def gamma_below(x: float, shape: float) -> float:
    """
    P(X < x) for a gamma variable of scale 1: the regularised incomplete gamma function.

    Args:
        x: Not below 0.
        shape: Above 0.

    Raises:
        OutOfRange: An argument outside.

    Source: series and continued fraction, Abramowitz and Stegun, 6.5.29 and 6.5.31; checked against another library.

    >>> round(gamma_below(1.0, 1.0), 6), gamma_below(0.0, 2.5)
    (0.632121, 0.0)
    """
    if not (x >= 0 and shape > 0 and math.isfinite(shape)):
        raise OutOfRange("Cannot find a share of the gamma distribution", f"x = {x} and shape {shape}",
                         "x from 0, a shape above 0", "Check the counts and hours.")  # fmt: skip
    if x == 0 or x == math.inf:
        return 0.0 if x == 0 else 1.0
    front = math.exp(shape * math.log(x) - x - math.lgamma(shape))
    return front * _series(x, shape) if x < shape + 1 else 1 - front * _fraction(x, shape)


def gamma_quantile(share: float, shape: float) -> float:
    """
    The x below which a gamma variable of scale 1 lies with that probability.

    Raises:
        OutOfRange: A share not between 0 and 1, or a shape not above 0.

    >>> round(gamma_quantile(0.9, 1.0), 5)
    2.30259
    """
    if not 0 < share < 1:
        raise OutOfRange("Cannot find a quantile of the gamma distribution", f"a probability of {share}",
                         "a probability between 0 and 1", "90 % is written 0.9.")  # fmt: skip
    low, high = TINY, max(1.0, shape)
    while gamma_below(high, shape) < share:
        high *= 2
    for _ in range(HALVINGS):
        middle = math.sqrt(low) * math.sqrt(high)
        low, high = (middle, high) if gamma_below(middle, shape) < share else (low, middle)
    return math.sqrt(low) * math.sqrt(high)


def chi_square_quantile(share: float, dof: float) -> float:
    """
    Quantile of the chi-square distribution.

    >>> round(chi_square_quantile(0.95, 2), 3)
    5.991
    """
    return 2 * gamma_quantile(share, dof / 2)


def _series(x: float, shape: float) -> float:
    term = total = 1 / shape
    for n in range(1, MOST):
        term *= x / (shape + n)
        total += term
        if term < total * SETTLED:
            break
    return total


def _fraction(x: float, shape: float) -> float:
    """Continued fraction from the front, by the recurrence of Lentz."""
    b = x + 1 - shape
    c, d = math.inf, 1 / b
    value = d
    for n in range(1, MOST):
        a = -n * (n - shape)
        b += 2
        d = 1 / (a * d + b)
        c = b + a / c
        value *= d * c
        if abs(d * c - 1) < SETTLED:
            break
    return value
