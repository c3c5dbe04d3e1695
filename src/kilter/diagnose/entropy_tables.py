"""
Tables behind expected information: classes of spread, the Gaussian of each class on a ring of cells, and entropies.

A class of spread is the exponent and the first two bits of the mantissa of the variance in cells, read from the
number's own bits: eight classes an octave of spread, 7 to 12 % apart.
"""

from __future__ import annotations

from functools import cache
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.prediction import Floats

CELLS = 1024
FINEST, COARSEST = -3, 7
"""Smallest and largest spread in cells, as powers of two: 1/8 of a cell to 128 cells."""
PER_OCTAVE = 8
CLASSES = (COARSEST - FINEST) * PER_OCTAVE
SHIFT, LOWEST = 21, (127 + 2 * FINEST) * 4
"""A 32-bit float shifted by this many bits leaves its exponent (127 stands for zero) and two bits of mantissa."""
SMALLEST = 1e-12
"""Shares of a Gaussian below this are left out of its cells."""
FARTHEST, PER_UNIT = 8.0, 500
"""Reach of the table of the normal distribution function in standard deviations, and its places to each."""
EVEN_GRID = np.linspace(-30.0, 6.0, 241)
"""Grid for the log of (even part / Gaussian part) per cell."""


def spread_class(variance: Floats) -> NDArray[np.int32]:
    """
    Class of each variance in cells, clipped to the first and last class.

    >>> spread_class(np.array([0.0, 1.0, 4.0, 1e9])).tolist()
    [0, 24, 32, 79]
    """
    bits = variance.astype(np.float32).view(np.int32)
    bits >>= SHIFT
    bits -= LOWEST
    return np.clip(bits, 0, CLASSES - 1, out=bits)


def member_entropy(level: NDArray[np.intp], even: Floats, cells: Floats) -> Floats:
    """Entropy of one hypothesis' reading, in nats, for a class of spread, an even part and a width in cells."""
    good = np.maximum(1.0 - even, 1e-12)
    ratio = even / cells / good
    with np.errstate(divide="ignore"):
        log_ratio = np.clip(np.log(ratio), EVEN_GRID[0], EVEN_GRID[-1])
    place = (log_ratio - EVEN_GRID[0]) / (EVEN_GRID[1] - EVEN_GRID[0])
    left = np.minimum(place.astype(np.intp), len(EVEN_GRID) - 2)
    table = _member_table()
    excess = table[level, left] + (place - left) * (table[level, left + 1] - table[level, left])
    inside = good * (excess + CELLS * x_log_x(ratio)) + good * np.log(good) * (1.0 + CELLS * ratio)
    outside = np.maximum(cells - CELLS, 0.0) * x_log_x(even / cells)
    return np.where(even > 0.999, np.log(cells), -inside - outside)


@cache
def _kernels() -> Floats:
    """Gaussians rounded to cells, centred on cell 0 of a ring, shape (CLASSES, CELLS)."""
    octave, quarter = np.divmod(np.arange(CLASSES), 4)
    sd = np.sqrt(2.0 ** (2 * FINEST + octave) * (1.0 + (quarter + 0.5) / 4.0))
    edge = np.arange(-CELLS // 2, CELLS // 2 + 1) - 0.5
    below = np.array([[0.5 * (1.0 + erf(e / s / sqrt(2.0))) for e in edge] for s in sd])
    kernel = np.diff(below, axis=1)
    kernel = np.where(kernel > SMALLEST, kernel, 0.0)
    return np.roll(kernel / kernel.sum(axis=1, keepdims=True), -(CELLS // 2), axis=1)


@cache
def kernel_transforms() -> NDArray[np.complex128]:
    """Fourier transforms of the classes' Gaussians, shape (CLASSES, CELLS // 2 + 1)."""
    return np.fft.rfft(_kernels(), axis=1)


@cache
def _member_table() -> Floats:
    """Sum over cells of (k + r) log(k + r) - r log r for kernel k of a class and even part r, shape (CLASSES, grid)."""
    ratio = np.exp(EVEN_GRID)[:, None]
    table = np.empty((CLASSES, len(EVEN_GRID)))
    for level, kernel in enumerate(_kernels()):
        cells = kernel[kernel > 0][None, :]
        table[level] = (x_log_x(cells + ratio) - x_log_x(ratio)).sum(axis=1)
    return table


def x_log_x(x: Floats) -> Floats:
    """x times the natural log of x, 0 at 0."""
    return np.asarray(x * np.log(np.maximum(x, np.finfo(float).tiny)))


def normal_below(z: Floats) -> Floats:
    """
    Standard normal distribution function, by a table; good to 1e-6.

    >>> normal_below(np.array([-np.inf, 0.0, 1.959964])).round(5).tolist()
    [0.0, 0.5, 0.975]
    """
    below, step = _normal_table()
    place = (np.clip(z, -FARTHEST, FARTHEST) + FARTHEST) * PER_UNIT
    left = np.minimum(place.astype(np.int32), len(step) - 1)
    return np.asarray(below.take(left) + (place - left) * step.take(left))


@cache
def _normal_table() -> tuple[Floats, Floats]:
    """The function on an even grid from -FARTHEST to FARTHEST, and its steps."""
    grid = np.linspace(-FARTHEST, FARTHEST, round(2 * FARTHEST * PER_UNIT) + 1)
    below = np.array([0.5 * (1.0 + erf(z / sqrt(2.0))) for z in grid])
    return below, np.diff(below)
