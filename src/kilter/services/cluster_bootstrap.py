"""
Intervals of ratios of sums over clusters: calls of one visit depend on each other, visits do not.

Whole clusters are drawn with replacement, as many as there are, and the ratio is taken anew each time; the interval
runs between percentiles of those ratios. Source: the bootstrap of clustered data (Davison and Hinkley, Bootstrap
Methods and their Application, 1997; from memory); the tests compare it with closed forms.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from kilter.simulate.prediction import Floats

AT_ONCE = 2_000_000
"""Weights held at once; it bounds memory, not the result."""


def ratio_intervals(above: ArrayLike, below: ArrayLike, *, draws: int, level: float = 0.95, seed: int = 0) -> Floats:
    """
    Percentile intervals of sum(above) / sum(below) when the clusters are a sample.

    Args:
        above: What each cluster adds to each numerator, shape (clusters, ratios).
        below: What each cluster adds to each denominator, none negative, shape (clusters, ratios).
        draws: Bootstrap samples.
        level: Share of the ratios between the ends.
        seed: Of the samples; the same numbers give the same intervals.

    Returns:
        The ends, shape (ratios, 2); NaN where fewer than two clusters add to a denominator, which tells of no spread.

    >>> ratio_intervals([[1.0], [1.0], [1.0]], [[2.0], [2.0], [2.0]], draws=50).tolist()
    [[0.5, 0.5]]
    """
    top, bottom = np.asarray(above, dtype=float), np.asarray(below, dtype=float)
    known = (bottom > 0).sum(axis=0) >= 2
    ends = np.full((top.shape[1], 2), np.nan)
    if known.any():
        found = _ratios(top[:, known], bottom[:, known], draws, np.random.default_rng([seed, len(top)]))
        ends[known] = np.nanpercentile(found, [50 * (1 - level), 50 * (1 + level)], axis=0).T
    return ends


def _ratios(top: Floats, bottom: Floats, draws: int, random: np.random.Generator) -> Floats:
    """The ratios of each bootstrap sample, NaN where a denominator is 0; shape (draws, ratios)."""
    clusters = len(top)
    step = max(1, AT_ONCE // clusters)
    found = []
    for start in range(0, draws, step):
        size = min(step, draws - start)
        weights = random.multinomial(clusters, np.full(clusters, 1.0 / clusters), size=size).astype(float)
        sums = weights @ bottom
        found.append(np.divide(weights @ top, sums, out=np.full(sums.shape, np.nan), where=sums > 0))
    return np.concatenate(found)
