"""Possible outcomes of a test: the chance of each under every hypothesis."""

from __future__ import annotations

import numpy as np

from kilter.diagnose.entropy_tables import normal_below
from kilter.diagnose.expect import Expected
from kilter.simulate.prediction import Floats


def outcome_shares(expected: Expected, test: int, most: int) -> Floats:
    """
    Chance of each outcome under each hypothesis, rows adding up to one, shape (H + 1, at most K).

    A word is an outcome by itself. The numeric range is cut where the mixture is divided into equal shares, in the gaps
    between clusters of predicted readings where there are any.

    Args:
        test: Place among the candidates.
        most: Largest number of outcomes K of a numeric test.
    """
    if test in expected.words:
        return expected.words[test][1]
    mean, unknown = expected.mean[:, test], expected.unknown[:, test]
    sd = np.hypot(expected.spread[:, test], expected.candidates[test].noise)
    known = np.isfinite(mean) & (unknown < 1.0)
    if not known.any():
        return np.ones((len(mean), 1))
    edges = _edges(mean[known], sd[known], (expected.weights * (1.0 - unknown))[known], most)
    below = normal_below((edges[None, :] - np.where(known, mean, 0.0)[:, None]) / sd[:, None])
    gaussian = np.diff(below, axis=1, prepend=0.0, append=1.0)
    anything = 1.0 - (1.0 - expected.candidates[test].gross) * (1.0 - np.where(known, unknown, 1.0))
    return np.asarray((1.0 - anything)[:, None] * gaussian + anything[:, None] * _even(edges, expected, test))


def _edges(mean: Floats, sd: Floats, weights: Floats, most: int) -> Floats:
    """Cuts between clusters of means first, then through the widest remaining shares; at most `most` - 1 of them."""
    order = np.argsort(mean, kind="stable")
    mean, sd, weights = mean[order], sd[order], weights[order]
    gaps = np.diff(mean) / (sd[1:] + sd[:-1])
    between = 0.5 * (mean[1:] + mean[:-1])
    clear = np.argsort(-gaps, kind="stable")[: most - 1]
    clear = clear[gaps[clear] > 1.0]
    share = np.cumsum(weights) / weights.sum()
    cuts = mean[np.searchsorted(share, np.arange(1, most) / most).clip(0, len(mean) - 1)]
    cuts = cuts[: most - 1 - len(clear)] if len(clear) else cuts
    return np.unique(np.concatenate([between[clear], cuts]))


def _even(edges: Floats, expected: Expected, test: int) -> Floats:
    """Shares of a reading that could be anything: by length, the outer outcomes taking what the width leaves over."""
    inner = np.diff(edges)
    width = max(expected.candidates[test].width, 2.0 * float(inner.sum()), 1e-300)
    outer = 0.5 * (width - inner.sum())
    return np.concatenate([[outer], inner, [outer]]) / width
