"""
Expected information of tests: how many bits about 'which hypothesis' one more reading brings.

For each test the readings form a mixture: every hypothesis puts a Gaussian around its own mean, plus an even part
over the quantity's width for gross errors and unknown predictions. Information is the entropy of the mixture less the
average entropy of its members. The mixture needs no loop over hypotheses: their weights are counted into a histogram
of means for each class of spread, and each histogram is convolved with the class's Gaussian by Fourier transform. A
member's entropy does not depend on its mean, so it is a table over class and even part. Both entropies are of the
reading rounded to one cell of the histogram, so they are consistent, and information is slightly understated where a
spread is below a cell (span / 1024).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.diagnose.entropy_tables import CELLS, CLASSES, kernel_transforms, member_entropy, spread_class, x_log_x
from kilter.simulate.prediction import Floats

TAIL = 5.0
"""Standard deviations kept free on both sides of the outermost means."""
TESTS_AT_ONCE, ELEMENTS_AT_ONCE = 16, 100_000


def word_bits(weights: Floats, chances: Floats) -> float:
    """
    Information of one test read as a word. [bit]

    Args:
        weights: Probabilities of the hypotheses, shape (H,).
        chances: Chance of each word with reading errors mixed in, shape (H, K).

    >>> round(word_bits(np.array([0.5, 0.5]), np.array([[1.0, 0.0], [0.0, 1.0]])), 6)
    1.0
    """
    return max(0.0, _entropy(weights @ chances) - float(weights @ _row_entropy(chances)))


def numeric_bits(
    weights: Floats,
    mean: Floats,
    spread: Floats,
    noise: Floats,
    width: Floats,
    gross: Floats,
    unknown: Floats | None = None,
) -> Floats:
    """
    Information of each numeric test, shape (T,). [bit]

    Args:
        weights: Probabilities of the hypotheses, shape (H,); they should add up to one.
        mean: [scaled], shape (H, T)
        spread: Without noise. [scaled], shape (H, T)
        noise: Instrument and model error. [scaled], shape (T,)
        width: Length over which a meaningless reading may fall. [scaled], shape (T,)
        gross: Chance of a gross error, shape (T,).
        unknown: Chance that the reading could be anything, shape (H, T), or None for nowhere.
    """
    used = weights > 0
    if not used.all():
        weights, mean, spread = weights[used], mean[used], spread[used]
        unknown = None if unknown is None else unknown[used]
    limits = (np.fmin.reduce(mean, axis=0), np.fmax.reduce(mean, axis=0), np.fmax.reduce(spread, axis=0))
    low, high, widest = (np.nan_to_num(one) for one in limits)
    bits = np.zeros(mean.shape[1])
    for start in range(0, mean.shape[1], TESTS_AT_ONCE):
        cols = slice(start, start + TESTS_AT_ONCE)
        doubt = None if unknown is None or not unknown[:, cols].any() else unknown[:, cols]
        tests = _Tests(weights, mean[:, cols], spread[:, cols], noise[cols], gross[cols], doubt)
        tests.place(low[cols], high[cols], widest[cols], width[cols])
        bits[cols] = tests.bits()
    return bits


@dataclass(frozen=True)
class _Counted:
    """
    Weights counted by test, class of spread and cell; only the rows that hold any are kept.

    Args:
        mass: Weight by test and class, shape (T, CLASSES).
        test, level: Test and class of each row kept, in order, shape (R,).
        rows: Weight by cell, shape (R, CELLS).
    """

    mass: Floats
    test: NDArray[np.intp]
    level: NDArray[np.intp]
    rows: Floats


def _count_means(
    weights: Floats, mean: Floats, spread: Floats, noise: Floats, origin: Floats, scale: Floats
) -> _Counted:
    """
    Counts the weights by test, class of spread and cell.

    Args:
        weights: Shape (H,), or (H, T) where part of the prediction is unknown.
        mean: Shape (H, T).
        spread: Without noise, shape (H, T).
        noise: Shape (T,).
        origin: Place of cell 0, shape (T,).
        scale: Cells per unit, shape (T,).
    """
    tests, step = len(scale), max(1, ELEMENTS_AT_ONCE // len(scale))
    first = np.arange(tests, dtype=np.intp) * CLASSES
    row, cell = np.empty(mean.shape, np.intp), np.empty(mean.shape, np.intp)
    for start in range(0, len(mean), step):
        some = slice(start, start + step)
        row[some] = spread_class((spread[some] * scale) ** 2 + (noise * scale) ** 2)
        row[some] += first
        cell[some] = ((mean[some] - origin) * scale).astype(np.int32)
    share = (weights if weights.ndim == 2 else np.broadcast_to(weights[:, None], mean.shape)).ravel()
    mass = np.bincount(row.ravel(), share, minlength=tests * CLASSES).astype(float)
    kept = np.flatnonzero(mass)
    place = np.zeros(len(mass), np.intp)
    place[kept] = np.arange(len(kept)) * CELLS
    counted = np.bincount((place[row] + cell).ravel(), share, minlength=max(len(kept), 1) * CELLS).astype(float)
    test, level = np.divmod(kept, CLASSES)
    return _Counted(mass.reshape(-1, CLASSES), test, level, counted.reshape(-1, CELLS)[: len(kept)])


class _Tests:
    """Some tests that are counted together."""

    def __init__(
        self, weights: Floats, mean: Floats, spread: Floats, noise: Floats, gross: Floats, unknown: Floats | None
    ) -> None:
        self.weights, self.mean, self.spread, self.noise, self.gross = weights, mean, spread, noise, gross
        self.unknown = unknown
        if unknown is not None:
            known = np.isfinite(mean) & np.isfinite(spread)
            self.unknown = np.where(known, unknown, 1.0)
            self.mean, self.spread = np.where(known, mean, np.nan), np.where(known, spread, 0.0)

    def place(self, low: Floats, high: Floats, widest: Floats, width: Floats) -> None:
        """Lays the cells over all means with room for the tails on both sides."""
        tail = TAIL * np.hypot(widest, self.noise)
        span = (high - low) + 2.0 * tail
        self.step = span / (CELLS - 2)
        self.origin = low - tail - self.step
        self.cells = np.maximum(width / self.step, CELLS)
        if self.unknown is not None:
            self.mean = np.where(np.isfinite(self.mean), self.mean, low)

    def bits(self) -> Floats:
        """Entropy of the mixture less the mean entropy of its members."""
        weights = self.weights if self.unknown is None else self.weights[:, None] * (1.0 - self.unknown)
        counted = _count_means(weights, self.mean, self.spread, self.noise, self.origin, 1.0 / self.step)
        even = self.gross * self.weights.sum()
        inner, sure = np.zeros(len(even)), counted.mass
        if self.unknown is not None:
            even = even + (1.0 - self.gross) * (self.weights @ self.unknown)
            inner, doubtful = self._doubtful()
            sure = counted.mass - doubtful
        test, level = np.nonzero(sure)
        entropy = sure[test, level] * member_entropy(level, self.gross[test], self.cells[test])
        inner = inner + np.bincount(test, entropy, minlength=len(inner))
        return np.asarray(np.maximum(0.0, self._mixture_entropy(counted, even) - inner) / np.log(2.0))

    def _doubtful(self) -> tuple[Floats, Floats]:
        """Entropy summed, and weight by test and class, of predictions that are partly or wholly unknown."""
        assert self.unknown is not None
        row, test = np.nonzero(self.unknown)
        doubt = self.unknown[row, test]
        variance = (self.spread[row, test] ** 2 + self.noise[test] ** 2) / self.step[test] ** 2
        level = spread_class(variance).astype(np.intp)
        even = 1.0 - (1.0 - self.gross[test]) * (1.0 - doubt)
        entropy = self.weights[row] * member_entropy(level, even, self.cells[test])
        place = test * CLASSES + level
        mass = np.bincount(place, self.weights[row] * (1.0 - doubt), minlength=len(self.step) * CLASSES)
        inner = np.bincount(test, entropy, minlength=len(self.step))
        return inner.astype(float), mass.reshape(-1, CLASSES).astype(float)

    def _mixture_entropy(self, counted: _Counted, even: Floats) -> Floats:
        test = counted.test
        product = np.fft.rfft(counted.rows, axis=1) * kernel_transforms()[counted.level]
        spectrum = np.zeros((len(even), product.shape[1]), dtype=complex)
        some, first = np.unique(test, return_index=True)
        spectrum[some] = np.add.reduceat(product, first, axis=0) * (1.0 - self.gross)[some, None] if len(some) else 0.0
        each = even / self.cells
        cells = np.maximum(np.fft.irfft(spectrum, CELLS, axis=1), 0.0) + each[:, None]
        return np.asarray(-x_log_x(cells).sum(axis=1) - np.maximum(self.cells - CELLS, 0.0) * x_log_x(each))


def _entropy(shares: Floats) -> float:
    return float(-x_log_x(shares).sum() / np.log(2.0))


def _row_entropy(shares: Floats) -> Floats:
    return np.asarray(-x_log_x(shares).sum(axis=1) / np.log(2.0))
