"""Possible outcomes of a test: the chance of each under every hypothesis."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kilter.diagnose.entropy_tables import normal_below
from kilter.diagnose.expect import Expected
from kilter.simulate.prediction import Floats

TESTS_AT_ONCE = 16
"""Tests that are cut together: few enough to stay in the processor's cache."""


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
    shares = _numeric_shares(expected, np.array([test], dtype=np.intp), most)[0]
    return np.asarray(shares[:, shares.any(axis=0)])


def all_outcome_shares(expected: Expected, most: int) -> Floats:
    """
    The same of every test at once, shape (C, H + 1, K); a test with fewer outcomes has zeros at the end.

    Args:
        most: Largest number of outcomes of a numeric test; K is more where a test has more words.
    """
    outcomes = max([most, *(table.shape[1] for _, table in expected.words.values())])
    found = np.zeros((len(expected.candidates), len(expected.weights), outcomes))
    numeric = expected.numeric()
    for start in range(0, len(numeric), TESTS_AT_ONCE):
        some = numeric[start : start + TESTS_AT_ONCE]
        found[some, :, :most] = _numeric_shares(expected, some, most)
    for test, (_, table) in expected.words.items():
        found[test, :, : table.shape[1]] = table
    return found


def _numeric_shares(expected: Expected, tests: NDArray[np.intp], most: int) -> Floats:
    """Tests read as numbers, shape (C, H + 1, most); cuts that coincide leave an outcome without a share."""
    mean, spread, unknown = (one[:, tests].T for one in (expected.mean, expected.spread, expected.unknown))
    candidates = [expected.candidates[test] for test in tests]
    noise, width, gross = np.array([(one.noise, one.width, one.gross) for one in candidates]).T[:, :, None]
    sd, known = np.hypot(spread, noise), np.isfinite(mean) & (unknown < 1.0)
    shares = np.zeros((*mean.shape, most))
    some = known.any(axis=1)
    shares[~some, :, 0] = 1.0
    heavy = expected.weights * (1.0 - unknown) * known
    edges = _edges(np.where(known, mean, np.inf)[some], sd[some], heavy[some], most)
    z = edges[:, None, :] - np.where(known, mean, 0.0)[some, :, None]
    z /= sd[some, :, None]
    gaussian = np.diff(normal_below(z), axis=2, prepend=0.0, append=1.0)
    anything = (1.0 - (1.0 - gross) * (1.0 - np.where(known, unknown, 1.0)))[some, :, None]
    gaussian *= 1.0 - anything
    gaussian += anything * _even(edges, width[some])[:, None, :]
    shares[some] = gaussian
    return shares


def _edges(mean: Floats, sd: Floats, weights: Floats, most: int) -> Floats:
    """
    Cuts between clusters of means first, then through the widest remaining shares, in order, shape (C, most - 1).

    Args:
        mean: Infinite where nothing is known, shape (C, H).
        weights: Nought there, shape (C, H).
    """
    order = np.argsort(mean, axis=1, kind="stable")
    mean, sd, weights = (np.take_along_axis(one, order, axis=1) for one in (mean, sd, weights))
    apart = np.isfinite(mean[:, 1:])
    with np.errstate(invalid="ignore"):
        gaps = np.where(apart, np.diff(mean, axis=1), 0.0) / (sd[:, 1:] + sd[:, :-1])
        between = 0.5 * (mean[:, 1:] + mean[:, :-1])
    clear = np.argsort(-gaps, axis=1, kind="stable")[:, : most - 1]
    wide = np.take_along_axis(gaps, clear, axis=1) > 1.0
    share = np.cumsum(weights, axis=1)
    share /= share[:, -1:]
    last = np.isfinite(mean).sum(axis=1, keepdims=True) - 1
    cut = np.array([np.searchsorted(one, np.arange(1, most) / most) for one in share])
    cuts = np.take_along_axis(mean, np.minimum(cut, last), axis=1)
    taken = wide.sum(axis=1, keepdims=True)
    edges = np.where(np.arange(most - 1) < most - 1 - taken, cuts, np.nan)
    for row in np.flatnonzero(taken[:, 0]):
        count = int(taken[row, 0])
        edges[row, most - 1 - count :] = between[row, clear[row, :count]]
    return np.asarray(np.sort(edges, axis=1))


def _even(edges: Floats, width: Floats) -> Floats:
    """Shares of a reading that could be anything: by length, the outer outcomes taking what the width leaves over."""
    inner = np.diff(edges, axis=1)
    spanned = inner.sum(axis=1, keepdims=True)
    width = np.maximum(np.maximum(width, 2.0 * spanned), 1e-300)
    outer = 0.5 * (width - spanned)
    return np.concatenate([outer, inner, outer], axis=1) / width
