"""The beta distribution: what is known about a share after so many hits and misses."""

from __future__ import annotations

import math

from kilter.measure.errors import OutOfRange

STEPS, SETTLED, SMALL = 1100, 1e-14, 1e-3
"""Most steps to the root, when it stands still, and below which bounds are halved on a log scale."""


def beta_quantile(share: float, a: float, b: float) -> float:
    """
    The x below which a beta variable lies with that probability.

    Args:
        share: Between 0 and 1.
        a: First shape: hits, plus those of the prior.
        b: Second shape: misses, plus those of the prior.

    Raises:
        OutOfRange: A shape not above zero, or a share not between 0 and 1.

    Source: definition of the distribution; the root is found by Newton's method, kept within its bounds.
        Checked against another library.

    >>> round(beta_quantile(0.5, 1, 1), 6), round(beta_quantile(0.05, 1, 9), 6)
    (0.5, 0.005683)
    """
    if not (a > 0 and b > 0 and 0 < share < 1):
        raise OutOfRange(
            "Cannot find a quantile of the beta distribution", f"shapes {a} and {b} and a probability of {share}",
            "shapes above 0, a probability between 0 and 1", "Check the counts.",
        )  # fmt: skip
    low, high, x = 0.0, 1.0, a / (a + b)
    for _ in range(STEPS):
        miss = below(x, a, b) - share
        low, high = (low, x) if miss > 0 else (x, high)
        slope = _density(x, a, b)
        step = x - miss / slope if slope > 0 else low
        if not low < step < high:
            step = (low + high) / 2 if high > SMALL else (math.sqrt(low * high) if low else high / 2)
        if abs(step - x) <= SETTLED * step or low >= high:
            return step
        x = step
    return x


def _density(x: float, a: float, b: float) -> float:
    if not 0 < x < 1:
        return 0.0
    log_whole = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    return math.exp(min(log_whole + (a - 1) * math.log(x) + (b - 1) * math.log1p(-x), 700.0))


def below(x: float, a: float, b: float) -> float:
    """P(X < x), by the side on which the continued fraction settles."""
    return beta_share(x, a, b) if x < (a + 1) / (a + b + 2) else 1 - beta_share(1 - x, b, a)


def beta_share(x: float, a: float, b: float) -> float:
    """
    Regularised incomplete beta function: P(X < x) of a beta distribution, on the side where x is not above its mean.

    Source: continued fraction, Abramowitz and Stegun, 26.5.8.
    """
    if x <= 0:
        return 0.0
    front = math.exp(a * math.log(x) + b * math.log1p(-x) + math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)) / a
    fraction = 1.0
    for m in range(_terms_needed(a, b), 0, -1):
        half, odd = divmod(m, 2)
        if odd:
            term = -(a + half) * (a + b + half) / ((a + 2 * half) * (a + 2 * half + 1))
        else:
            term = half * (b - half) / ((a + 2 * half - 1) * (a + 2 * half))
        fraction = 1 + term * x / fraction
    return front / fraction


def _terms_needed(a: float, b: float) -> int:
    """Terms that settle the fraction to double precision on its good side; it grows as the square root."""
    return 60 + 8 * math.isqrt(int(max(a, b)) + 1)
