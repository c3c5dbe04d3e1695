"""The best of many open ways to serve one object at given prices of pieces."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations_with_replacement
from math import comb, prod

import numpy as np
from numpy.typing import NDArray

from kilter.planning.allocation.columns import Column, OpenWays, column
from kilter.planning.numbers import number

MOST = 20_000
"""Ways that are held at once; beyond them the answer is not known."""
Floats = NDArray[np.float64]


def best_way(
    ways: OpenWays, worth: float, steps: tuple[float, ...], prices: Mapping[tuple[str, int], float]
) -> tuple[float, Column | None] | None:
    """
    What the best way is worth above the prices of its pieces, and the way; None where there are too many to tell.

    Part by part, all choices so far are kept that no other one beats both in chance and in price. That holds for one
    finding, whose chance is a product; with several findings none is dropped.

    Args:
        ways: The open ways of one object.
        worth: Of the object.
        steps: Chances of the grades.
        prices: Of a piece by part and grade.
    """
    count = len(ways.findings)
    chances, costs = np.ones((1, count)), np.zeros(1)
    picked: NDArray[np.intp] = np.zeros((1, 0), dtype=np.intp)
    options = []
    for part, n in ways.reserve.items():
        if comb(n + len(ways.found[part]) - 1, n) > MOST:
            return None
        choices = list(combinations_with_replacement(ways.found[part], n))
        options.append(choices)
        wants = [finding.needs.get(part, 0) for finding in ways.findings]
        factor = np.array([[prod(steps[at] for at in one[:want]) for want in wants] for one in choices])
        price = np.array([sum(prices[part, at] for at in one) for one in choices])
        size = len(costs) * len(choices)
        if size > 50 * MOST:
            return None
        chances = (chances[:, None, :] * factor[None, :, :]).reshape(size, count)
        costs = (costs[:, None] + price[None, :]).ravel()
        picked = np.column_stack(
            [np.repeat(picked, len(choices), axis=0), np.tile(np.arange(len(choices)), len(picked))]
        )
        keep = _unbeaten(chances[:, 0], costs) if count == 1 else np.arange(size)
        if len(keep) > MOST:
            return None
        chances, costs, picked = chances[keep], costs[keep], picked[keep]
    total = chances @ np.array([one.chance for one in ways.findings])
    value = np.where(total >= number("allocation", "least_chance"), worth * total - costs, -np.inf)
    best = int(np.argmax(value))
    if not np.isfinite(value[best]):
        return 0.0, None
    pieces = {part: options[k][picked[best, k]] for k, part in enumerate(ways.reserve)}
    return float(value[best]), column(ways.place, pieces, ways.findings, steps)


def _unbeaten(chances: Floats, costs: Floats) -> NDArray[np.intp]:
    """Places of the choices that no other one beats in both, cheapest first."""
    order = np.lexsort((-chances, costs))
    best = np.maximum.accumulate(chances[order])
    first = np.concatenate([[True], chances[order][1:] > best[:-1]])
    return np.asarray(order[first])
