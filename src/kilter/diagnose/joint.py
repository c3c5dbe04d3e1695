"""
Likelihood of readings that move together, each of which may be grossly wrong.

Given a hypothesis, T readings are jointly Gaussian with deviations d and covariance C, but reading i is with a small
chance an outlier that could fall anywhere. The likelihood is a sum over all subsets O of outliers:

    sum over O of  prod(i in O) out_i  x  prod(i not in O) in_i  x  Normal(d without O; C without O)

Taking reading i out of a Gaussian with precision P = 1/C lowers the quadratic form d'Pd by (Pd)_i^2 / P_ii and
multiplies the determinant of C by P_ii, so subsets of size 0, 1 and 2 are summed exactly in one sweep each. Larger
subsets are followed greedily from the best pair for as long as another outlier helps, every subset met on the way is
added, and so is the subset of all readings. Every term is counted once, so the result is never more than the full sum
and never zero.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.prediction import Floats

HALF_LOG_TAU = 0.5 * np.log(2 * np.pi)
CHUNK = 1_000_000
"""Matrix elements handled at once: a working set of some megabytes stays in the processor's cache."""


@dataclass(frozen=True)
class Joint:
    """
    Result of one state's readings.

    Args:
        log_density: Shape (H,).
        outlier: Probability that each reading is an outlier given the hypothesis, shape (H, T).
        precision: Diagonal of P: one over the variance of each reading given all the others, shape (H, T).
    """

    log_density: Floats
    outlier: Floats
    precision: Floats


def joint_density(deviation: Floats, covariance: Floats, log_in: Floats, log_out: Floats) -> Joint:
    """
    Log density of the readings with outliers summed out.

    Args:
        deviation: Reading less prediction, shape (H, T).
        covariance: Positive definite, shape (H, T, T).
        log_in: Log chance that a reading is no outlier, shape (H, T).
        log_out: Log of (chance that it is) x (density of an outlier), shape (H, T).
    """
    lanes, count = deviation.shape
    step = max(1, CHUNK // max(1, count * count))
    pieces = [
        _chunk(deviation[a : a + step], covariance[a : a + step], log_in[a : a + step], log_out[a : a + step])
        for a in range(0, lanes, step)
    ]
    return Joint(
        np.concatenate([one.log_density for one in pieces]),
        np.concatenate([one.outlier for one in pieces]),
        np.concatenate([one.precision for one in pieces]),
    )


@dataclass
class _Gaussian:
    """What is left of the Gaussian after some readings were taken out: P, Pd, the log term and who is out."""

    precision: Floats
    weighted: Floats
    log_term: Floats
    out: NDArray[np.bool_]

    def gains(self, log_in: Floats, log_out: Floats) -> Floats:
        """Change of the log term for each reading taken out next; minus infinity for those already out."""
        diagonal = np.einsum("hii->hi", self.precision)
        safe = np.where(self.out, 1.0, diagonal)
        gain = 0.5 * self.weighted**2 / safe - 0.5 * np.log(safe) + HALF_LOG_TAU + log_out - log_in
        return np.where(self.out, -np.inf, gain)

    def without(self, reading: NDArray[np.intp], gain: Floats) -> _Gaussian:
        """Takes one reading out of each lane."""
        lanes = np.arange(len(reading))
        column = self.precision[lanes, :, reading]
        pivot = column[lanes, reading]
        out = self.out.copy()
        out[lanes, reading] = True
        return _Gaussian(
            self.precision - column[:, :, None] * (column / pivot[:, None])[:, None, :],
            self.weighted - column * (self.weighted[lanes, reading] / pivot)[:, None],
            self.log_term + gain,
            out,
        )

    def keep(self, lanes: NDArray[np.bool_]) -> _Gaussian:
        """Some of the lanes."""
        return _Gaussian(self.precision[lanes], self.weighted[lanes], self.log_term[lanes], self.out[lanes])


class _Sum:
    """A running sum of exponentials with, for each reading, the share of the terms in which it is an outlier."""

    def __init__(self, lanes: int, count: int) -> None:
        self.top = np.full(lanes, -np.inf)
        self.total = np.zeros(lanes)
        self.outlier = np.zeros((lanes, count))

    def add(self, rows: NDArray[np.intp], top: Floats, total: Floats, outlier: Floats) -> None:
        """Adds terms given as multiples of exp(top)."""
        new = np.maximum(self.top[rows], top)
        with np.errstate(invalid="ignore"):
            old_scale = np.where(np.isfinite(new), np.exp(self.top[rows] - new), 0.0)
            new_scale = np.where(np.isfinite(top), np.exp(top - new), 0.0)
        self.total[rows] = self.total[rows] * old_scale + total * new_scale
        self.outlier[rows] = self.outlier[rows] * old_scale[:, None] + outlier * new_scale[:, None]
        self.top[rows] = new

    def result(self) -> tuple[Floats, Floats]:
        """Log of the sum and the outlier shares."""
        return self.top + np.log(self.total), self.outlier / self.total[:, None]


def _chunk(deviation: Floats, covariance: Floats, log_in: Floats, log_out: Floats) -> Joint:
    lanes, count = deviation.shape
    if count == 0:
        return Joint(np.zeros(lanes), np.zeros((lanes, 0)), np.zeros((lanes, 0)))
    sd = np.sqrt(np.einsum("hii->hi", covariance))
    full = _standardised(deviation / sd, covariance / (sd[:, :, None] * sd[:, None, :]), log_in)
    precision = np.einsum("hii->hi", full.precision) / sd**2
    found = _sum_subsets(full, log_in, log_out + np.log(sd))
    log_density, outlier = found.result()
    return Joint(log_density - np.log(sd).sum(axis=1), outlier, precision)


def _standardised(deviation: Floats, correlation: Floats, log_in: Floats) -> _Gaussian:
    precision = np.linalg.inv(correlation)
    precision = 0.5 * (precision + precision.transpose(0, 2, 1))
    weighted = np.einsum("hij,hj->hi", precision, deviation)
    quadratic = np.einsum("hi,hi->h", weighted, deviation)
    log_determinant = np.linalg.slogdet(correlation)[1]
    term = -0.5 * (quadratic + log_determinant) - deviation.shape[1] * HALF_LOG_TAU + log_in.sum(axis=1)
    return _Gaussian(precision, weighted, term, np.zeros(deviation.shape, dtype=bool))


def _sum_subsets(full: _Gaussian, log_in: Floats, log_out: Floats) -> _Sum:
    lanes, count = log_in.shape
    free = np.isfinite(log_out).sum(axis=1)
    every = np.arange(lanes)
    total = _Sum(lanes, count)
    total.add(every, full.log_term, np.ones(lanes), np.zeros((lanes, count)))
    singles = full.gains(log_in, log_out)
    _add_next(total, every, full, singles)
    if count >= 2:
        pairs = _pair_gains(full, log_in, log_out)
        _add_pairs(total, full.log_term, pairs)
        _follow(total, full, singles, pairs, log_in, log_out, free)
    _add_all(total, np.flatnonzero(free >= 3), log_in, log_out)
    return total


def _add_next(total: _Sum, rows: NDArray[np.intp], at: _Gaussian, gains: Floats) -> None:
    """Adds the subsets that have one reading more than those already out."""
    best = gains.max(axis=1)
    with np.errstate(invalid="ignore"):
        terms = np.where(np.isfinite(gains), np.exp(gains - best[:, None]), 0.0)
    weight = terms.sum(axis=1)
    total.add(rows, at.log_term + best, weight, np.where(at.out, weight[:, None], terms))


def _pair_gains(full: _Gaussian, log_in: Floats, log_out: Floats) -> Floats:
    """Change of the log term for each pair taken out, shape (H, T, T), minus infinity on and below the diagonal."""
    diagonal = np.einsum("hii->hi", full.precision)
    v, odds = full.weighted, log_out - log_in
    determinant = diagonal[:, :, None] * diagonal[:, None, :] - full.precision**2
    upper = np.triu(np.ones(determinant.shape[1:], dtype=bool), 1)
    determinant = np.where(upper, np.maximum(determinant, np.finfo(float).tiny), 1.0)
    quadratic = (
        v[:, :, None] ** 2 * diagonal[:, None, :]
        + v[:, None, :] ** 2 * diagonal[:, :, None]
        - 2.0 * v[:, :, None] * v[:, None, :] * full.precision
    ) / determinant
    gain = 0.5 * (quadratic - np.log(determinant)) + 2 * HALF_LOG_TAU + odds[:, :, None] + odds[:, None, :]
    return np.where(upper, gain, -np.inf)


def _add_pairs(total: _Sum, log_term: Floats, pairs: Floats) -> None:
    best = pairs.max(axis=(1, 2))
    with np.errstate(invalid="ignore"):
        terms = np.where(np.isfinite(pairs), np.exp(pairs - best[:, None, None]), 0.0)
    total.add(np.arange(len(best)), log_term + best, terms.sum(axis=(1, 2)), terms.sum(axis=1) + terms.sum(axis=2))


def _follow(
    total: _Sum,
    full: _Gaussian,
    singles: Floats,
    pairs: Floats,
    log_in: Floats,
    log_out: Floats,
    free: NDArray[np.intp],
) -> None:
    """Goes on from the best pair where it beats the best single reading, while a further outlier helps."""
    lanes, count = log_in.shape
    flat = pairs.reshape(lanes, -1).argmax(axis=1)
    rows = np.flatnonzero((pairs.reshape(lanes, -1).max(axis=1) > singles.max(axis=1)) & (free >= 4))
    if not rows.size:
        return
    first, second = np.divmod(flat[rows], count)
    at = full.keep(np.isin(np.arange(lanes), rows))
    here_in, here_out = log_in[rows], log_out[rows]
    for reading in (first, second):
        at = at.without(reading, at.gains(here_in, here_out)[np.arange(len(reading)), reading])
    size = 2
    while rows.size:
        gains = at.gains(here_in, here_out)
        _add_next(total, rows, at, gains)
        size += 1
        going = (gains.max(axis=1) > 0) & (free[rows] >= size + 2)
        rows, here_in, here_out, gains = rows[going], here_in[going], here_out[going], gains[going]
        best = gains.argmax(axis=1)
        at = at.keep(going).without(best, gains.max(axis=1)) if rows.size else at


def _add_all(total: _Sum, rows: NDArray[np.intp], log_in: Floats, log_out: Floats) -> None:
    """The subset of all readings that may be outliers; those that may not carry their own log_in."""
    may = np.isfinite(log_out[rows])
    top = np.where(may, log_out[rows], log_in[rows] - HALF_LOG_TAU).sum(axis=1)
    total.add(rows, top, np.ones(len(rows)), may.astype(float))
