"""Demand for spares: even chance (Poisson), a rate known from few failures (negative binomial), shelves and stores."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import OutOfRange

Floats = NDArray[np.float64]
MOST = 100_000


def poisson(mean: float) -> Floats:
    """
    Chance of 0, 1, 2, ... events, as far as they matter, adding up to 1.

    >>> round(float(poisson(0.5)[:2].sum()), 6)
    0.909796
    """
    _check(mean)
    count = np.arange(math.ceil(mean + 12 * math.sqrt(mean) + 20))
    logs = count * math.log(mean) - mean - np.array([math.lgamma(n + 1) for n in count]) if mean > 0 else None
    chances = np.exp(logs) if logs is not None else (count == 0).astype(np.float64)
    whole: Floats = chances / chances.sum()
    return whole


def negative_binomial(shape: float, exposure: float, years: float) -> Floats:
    """
    The same where the rate is not known: it has a gamma distribution with that shape and that exposure.

    Args:
        shape: Failures seen, plus those that the belief beforehand is worth.
        exposure: Years (or hours) in which they were seen, plus those of the belief.
        years: Looked ahead, in the same unit.

    Source: predictive distribution of a Poisson count under a gamma rate (textbook result; checked in the tests).

    >>> few, many = negative_binomial(2, 4, 4), negative_binomial(200, 400, 4)
    >>> round(float(few @ np.arange(len(few))), 3), enough(few, 0.95) > enough(many, 0.95)
    (2.0, True)
    """
    for one in (shape, exposure, years):
        _check(one)
    share, mean = exposure / (exposure + years), shape * years / exposure
    spread = math.sqrt(mean * (1 + years / exposure))
    count = np.arange(min(MOST, math.ceil(mean + 30 * spread + 40)))
    fixed = shape * math.log(share) - math.lgamma(shape)
    logs = np.array([math.lgamma(shape + n) - math.lgamma(n + 1) for n in count]) + fixed + count * math.log1p(-share)
    chances = np.exp(logs)
    whole: Floats = chances / chances.sum()
    return whole


def mean_of(chances: Floats) -> float:
    """Mean of a count."""
    return float(chances @ np.arange(len(chances)))


def enough(chances: Floats, share: float) -> int:
    """
    The smallest stock that is enough with that chance.

    >>> [enough(poisson(mean), 0.95) for mean in (0.1, 1.0, 5.0, 20.0)]
    [1, 3, 9, 28]
    """
    return int(np.searchsorted(np.cumsum(chances), share - 1e-12))


def interval(chances: Floats, share: float) -> tuple[int, int]:
    """Counts between which the truth lies with at least that chance, half of the rest on either side at most."""
    return enough(chances, (1 - share) / 2), enough(chances, (1 + share) / 2)


def expected_short(chances: Floats, stock: int) -> float:
    """
    Pieces that will be missing on average: the mean of what the demand exceeds the stock by.

    >>> [round(expected_short(poisson(1.0), stock), 6) for stock in range(3)]
    [1.0, 0.367879, 0.103638]
    """
    count = np.arange(len(chances))
    return float(chances @ np.maximum(count - stock, 0))


@dataclass(frozen=True)
class Shelves:
    """
    A central store and the shelves that it fills.

    Args:
        store_short: Pieces that the store owes on average.
        delay: By which a shelf waits for the store beyond fetching, on average. [unit of the times]
        pipelines: Pieces on their way to each shelf on average.
        short: Pieces missing at each shelf on average.
    """

    store_short: float
    delay: float
    pipelines: tuple[float, ...]
    short: tuple[float, ...]


def two_levels(
    rates: Sequence[float], stocks: Sequence[int], store: int, *, fetch: float, buy: float,
    mended_here: float = 0.0, mending: float = 0.0,
) -> Shelves:  # fmt: skip
    """
    Shelves that order one piece from the store for each one used, and a store that buys or mends one for each.

    Args:
        rates: Pieces used at each shelf in one unit of time.
        stocks: Pieces on each shelf.
        store: Pieces in the store.
        fetch: Time from the store to a shelf.
        buy: Time in which the store gets one again.
        mended_here: Share that is mended at the shelf and needs no piece from the store.
        mending: Time that takes.

    Source: C. C. Sherbrooke's two-level model (Operations Research 16, 1968, abstract): pieces on their way are Poisson
    with mean rate x time, whatever the times' distribution (Palm's theorem).

    >>> found = two_levels([0.5, 0.25], [0, 0], 1, fetch=0.1, buy=0.5, mended_here=0.2, mending=0.02)
    >>> round(found.store_short, 6), [round(one, 6) for one in found.pipelines]
    (0.040818, [0.069212, 0.034606])
    """
    for one in (*rates, fetch, buy, mending):
        _check(one)
    asked = (1 - mended_here) * math.fsum(rates)
    short = expected_short(poisson(asked * buy), store)
    delay = short / asked if asked > 0 else 0.0
    pipes = tuple(rate * (mended_here * mending + (1 - mended_here) * (fetch + delay)) for rate in rates)
    missing = tuple(expected_short(poisson(pipe), stock) for pipe, stock in zip(pipes, stocks, strict=True))
    return Shelves(short, delay, pipes, missing)


def mixed(parts: Sequence[Floats], weights: ArrayLike) -> Floats:
    """Mixture of counts of any lengths."""
    total = np.zeros(max(len(one) for one in parts))
    for one, weight in zip(parts, np.asarray(weights, np.float64), strict=True):
        total[: len(one)] += weight * one
    return total


def _check(value: float) -> None:
    if not (0 <= value < MOST * 1e6 and math.isfinite(value)):
        raise OutOfRange("Cannot forecast a demand", f"{value:g}", "from 0", "Check the rates and times.")
