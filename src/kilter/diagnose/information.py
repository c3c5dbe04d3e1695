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

from functools import cache
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.prediction import Floats

CELLS = 1024
TAIL = 5.0
"""Standard deviations kept free on both sides of the outermost means."""
FINEST, COARSEST, PER_OCTAVE = -3.0, 7.0, 8
"""Classes of spread in cells, as powers of two: 1/8 of a cell to 128 cells, in steps of 9 %."""
CLASSES = int((COARSEST - FINEST) * PER_OCTAVE) + 1
EVEN_GRID = np.linspace(-30.0, 6.0, 241)
"""Grid for the log of (even part / Gaussian part) per cell."""
TESTS_AT_ONCE, ELEMENTS_AT_ONCE = 16, 200_000


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
        tests = _Tests(weights, mean[:, cols], spread[:, cols], noise[cols], gross[cols])
        tests.place(low[cols], high[cols], widest[cols], width[cols])
        tests.unknown = None if unknown is None or not unknown[:, cols].any() else unknown[:, cols]
        bits[cols] = tests.bits()
    return bits


class _Tests:
    """Some tests that are counted together."""

    def __init__(self, weights: Floats, mean: Floats, spread: Floats, noise: Floats, gross: Floats) -> None:
        self.weights, self.mean, self.spread, self.noise2, self.gross = weights, mean, spread, noise**2, gross
        self.unknown: Floats | None = None

    def place(self, low: Floats, high: Floats, widest: Floats, width: Floats) -> None:
        """Lays the cells over all means with room for the tails on both sides."""
        tail = TAIL * np.sqrt(widest**2 + self.noise2)
        span = (high - low) + 2.0 * tail
        self.step = span / (CELLS - 2)
        self.origin = low - tail - self.step
        self.cells = np.maximum(width / self.step, CELLS)

    def bits(self) -> Floats:
        """Entropy of the mixture less the mean entropy of its members."""
        count = len(self.step)
        self.histogram = np.zeros(count * CLASSES * CELLS)
        self.even, self.inner = np.zeros(count), np.zeros(count)
        self.doubtful = np.zeros(count * CLASSES)
        rows = max(1, ELEMENTS_AT_ONCE // count)
        for start in range(0, len(self.weights), rows):
            self._count(slice(start, start + rows))
        table = self.histogram.reshape(count, CLASSES, CELLS)
        mass = table.sum(axis=2)
        sure = (mass - self.doubtful.reshape(mass.shape)) / (1.0 - self.gross)[:, None]
        levels = np.broadcast_to(np.arange(CLASSES), mass.shape)
        inner = self.inner + (sure * _member_entropy(levels, self.gross[:, None], self.cells[:, None])).sum(axis=1)
        return np.asarray(np.maximum(0.0, self._mixture_entropy(table, mass) - inner) / np.log(2.0))

    def _count(self, rows: slice) -> None:
        """Adds some hypotheses to the histogram of means by class of spread, and to the even part."""
        weights, mean = self.weights[rows], self.mean[rows]
        cell = ((mean - self.origin) / self.step).astype(np.float32)
        variance = ((self.spread[rows] ** 2 + self.noise2) / self.step**2).astype(np.float32)
        level = np.log2(variance) * np.float32(PER_OCTAVE / 2) + np.float32(0.5 - FINEST * PER_OCTAVE)
        gaussian = weights[:, None] * (1.0 - self.gross)
        self.even += weights.sum() * self.gross
        if self.unknown is not None:
            doubt = np.where(np.isfinite(cell) & np.isfinite(level), self.unknown[rows], 1.0)
            cell, level = np.where(doubt < 1.0, cell, 0.0), np.where(doubt < 1.0, level, 0.0)
            self.even += ((1.0 - self.gross) * doubt * weights[:, None]).sum(axis=0)
            gaussian = gaussian * (1.0 - doubt)
        places = np.clip(level, 0, CLASSES - 1).astype(np.intp) + np.arange(mean.shape[1]) * CLASSES
        if self.unknown is not None:
            self._add_doubtful(weights, doubt, places, gaussian)
        places = places * CELLS + cell.astype(np.intp)
        self.histogram += np.bincount(places.ravel(), gaussian.ravel(), minlength=len(self.histogram))

    def _add_doubtful(self, weights: Floats, doubt: Floats, places: NDArray[np.intp], gaussian: Floats) -> None:
        """Entropy of those predictions that are partly or wholly unknown, one by one."""
        row, test = np.nonzero(doubt)
        place = places[row, test]
        self.doubtful += np.bincount(place, gaussian[row, test], minlength=len(self.doubtful))
        even = 1.0 - (1.0 - self.gross[test]) * (1.0 - doubt[row, test])
        entropy = _member_entropy(place % CLASSES, even, self.cells[test])
        self.inner += np.bincount(test, weights[row] * entropy, minlength=len(self.inner))

    def _mixture_entropy(self, table: Floats, mass: Floats) -> Floats:
        even = self.even
        test, level = np.nonzero(mass)
        product = np.fft.rfft(table[test, level], axis=1) * _kernel_transforms()[level]
        spectrum = np.zeros((len(even), product.shape[1]), dtype=complex)
        np.add.at(spectrum, test, product)
        cells = np.maximum(np.fft.irfft(spectrum, CELLS, axis=1), 0.0) + (even / self.cells)[:, None]
        outside = np.maximum(self.cells - CELLS, 0.0) * _x_log_x(even / self.cells)
        return np.asarray(-_x_log_x(cells).sum(axis=1) - outside)


def _member_entropy(level: NDArray[np.intp], even: Floats, cells: Floats) -> Floats:
    """Entropy of one hypothesis' reading, in nats, for a class of spread, an even part and a width in cells."""
    good = np.maximum(1.0 - even, 1e-12)
    ratio = even / cells / good
    with np.errstate(divide="ignore"):
        log_ratio = np.clip(np.log(ratio), EVEN_GRID[0], EVEN_GRID[-1])
    place = (log_ratio - EVEN_GRID[0]) / (EVEN_GRID[1] - EVEN_GRID[0])
    left = np.minimum(place.astype(np.intp), len(EVEN_GRID) - 2)
    table = _member_table()
    excess = table[level, left] + (place - left) * (table[level, left + 1] - table[level, left])
    inside = good * (excess + CELLS * _x_log_x(ratio)) + good * np.log(good) * (1.0 + CELLS * ratio)
    outside = np.maximum(cells - CELLS, 0.0) * _x_log_x(even / cells)
    return np.where(even > 0.999, np.log(cells), -inside - outside)


@cache
def _kernels() -> Floats:
    """Gaussians rounded to cells, centred on cell 0 of a ring, shape (CLASSES, CELLS)."""
    sd = 2.0 ** (FINEST + np.arange(CLASSES) / PER_OCTAVE)
    edge = np.arange(-CELLS // 2, CELLS // 2 + 1) - 0.5
    below = np.array([[0.5 * (1.0 + erf(e / s / sqrt(2.0))) for e in edge] for s in sd])
    kernel = np.diff(below, axis=1)
    return np.roll(kernel / kernel.sum(axis=1, keepdims=True), -(CELLS // 2), axis=1)


@cache
def _kernel_transforms() -> NDArray[np.complex128]:
    return np.fft.rfft(_kernels(), axis=1)


@cache
def _member_table() -> Floats:
    """Sum over cells of (k + r) log(k + r) - r log r for kernel k of a class and even part r, shape (CLASSES, grid)."""
    ratio = np.exp(EVEN_GRID)
    kernels = _kernels()[:, None, :]
    pieces = [
        (_x_log_x(kernels + ratio[None, a : a + 33, None]) - _x_log_x(ratio)[None, a : a + 33, None]).sum(axis=2)
        for a in range(0, len(ratio), 33)
    ]
    return np.concatenate(pieces, axis=1)


def _x_log_x(x: Floats) -> Floats:
    return np.asarray(x * np.log(np.maximum(x, np.finfo(float).tiny)))


def _entropy(shares: Floats) -> float:
    return float(-_x_log_x(shares).sum() / np.log(2.0))


def _row_entropy(shares: Floats) -> Floats:
    return np.asarray(-_x_log_x(shares).sum(axis=1) / np.log(2.0))


def normal_below(z: Floats) -> Floats:
    """
    Standard normal distribution function, by a table; good to 1e-6.

    >>> normal_below(np.array([-np.inf, 0.0, 1.959964])).round(5).tolist()
    [0.0, 0.5, 0.975]
    """
    grid, below = _normal_table()
    return np.interp(z, grid, below, left=0.0, right=1.0)


@cache
def _normal_table() -> tuple[Floats, Floats]:
    grid = np.linspace(-8.0, 8.0, 8001)
    return grid, np.array([0.5 * (1.0 + erf(z / sqrt(2.0))) for z in grid])
