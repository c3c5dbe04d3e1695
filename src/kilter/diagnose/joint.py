"""
Likelihood of readings that move together, each of which may be grossly wrong.

Given a hypothesis, T readings are jointly Gaussian with deviations d and covariance C, but reading i is with a small
chance an outlier that could fall anywhere. The likelihood is a sum over all subsets O of outliers:

    sum over O of  prod(i in O) out_i  x  prod(i not in O) in_i  x  Normal(d without O; C without O)

Taking reading i out of a Gaussian with precision P = 1/C lowers the quadratic form d'Pd by (Pd)_i^2 / P_ii and
multiplies the determinant of C by P_ii, so subsets of size 0, 1 and 2 are summed exactly in one sweep each. Where an
outlier helps at all, kilter.diagnose.outliers climbs to the best larger subset; it and all its neighbours are added,
and so is the subset of all readings. Every term is counted once, so the result is never more than the full sum and
never zero.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.diagnose.outliers import HALF_LOG_TAU, best_subset
from kilter.simulate.prediction import Floats

CHUNK = 1_000_000
"""Matrix elements handled at once: a working set of some megabytes stays in the processor's cache."""

FARTHEST = 1000.0
"""Deviations beyond this many standard deviations are all the same, so that rounding stays harmless."""


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
        log_out: Log of (chance that it is) x (density of an outlier); minus infinity for a reading that cannot be one
            and that is independent of the others, shape (H, T).
    """
    lanes, count = deviation.shape
    step = max(1, CHUNK // max(1, count * count))
    slices = [slice(a, a + step) for a in range(0, max(lanes, 1), step)]
    pieces = [_chunk(deviation[one], covariance[one], log_in[one], log_out[one]) for one in slices]
    return Joint(
        np.concatenate([one.log_density for one in pieces]),
        np.concatenate([one.outlier for one in pieces]),
        np.concatenate([one.precision for one in pieces]),
    )


def _chunk(deviation: Floats, covariance: Floats, log_in: Floats, log_out: Floats) -> Joint:
    sd = np.sqrt(np.einsum("hii->hi", covariance))
    correlation = covariance / (sd[:, :, None] * sd[:, None, :])
    full = _Full.of(np.clip(deviation / sd, -FARTHEST, FARTHEST), correlation, log_in, log_out + np.log(sd))
    log_density, outlier = _sum_subsets(full).result()
    return Joint(log_density - np.log(sd).sum(axis=1), outlier, full.diagonal / sd**2)


@dataclass(frozen=True)
class _Full:
    """All readings taken as good, in units of their standard deviations."""

    deviation: Floats
    correlation: Floats
    precision: Floats
    diagonal: Floats
    weighted: Floats
    log_term: Floats
    log_in: Floats
    log_out: Floats

    @classmethod
    def of(cls, deviation: Floats, correlation: Floats, log_in: Floats, log_out: Floats) -> _Full:
        precision = np.linalg.inv(correlation)
        precision = 0.5 * (precision + precision.transpose(0, 2, 1))
        weighted = np.einsum("hij,hj->hi", precision, deviation)
        quadratic = np.einsum("hi,hi->h", weighted, deviation)
        log_determinant = np.linalg.slogdet(correlation)[1]
        term = -0.5 * (quadratic + log_determinant) + (log_in - HALF_LOG_TAU).sum(axis=1)
        diagonal = np.einsum("hii->hi", precision)
        return cls(deviation, correlation, precision, diagonal, weighted, term, log_in, log_out)

    def single_gains(self) -> Floats:
        """Change of the log term for each reading taken out, shape (H, T)."""
        change = self.weighted**2 / self.diagonal - np.log(self.diagonal)
        return np.asarray(0.5 * change + HALF_LOG_TAU + self.log_out - self.log_in)

    def pair_gains(self) -> Floats:
        """Change of the log term for each pair taken out, shape (H, T, T); minus infinity on and below the diagonal."""
        v, p, odds = self.weighted, self.diagonal, self.log_out - self.log_in
        determinant = p[:, :, None] * p[:, None, :] - self.precision**2
        upper = np.triu(np.ones(determinant.shape[1:], dtype=bool), 1)
        determinant = np.where(upper, np.maximum(determinant, np.finfo(float).tiny), 1.0)
        change = v[:, :, None] ** 2 * p[:, None, :] + v[:, None, :] ** 2 * p[:, :, None]
        change -= 2.0 * v[:, :, None] * v[:, None, :] * self.precision
        gain = 0.5 * (change / determinant - np.log(determinant)) + 2 * HALF_LOG_TAU
        return np.where(upper, gain + odds[:, :, None] + odds[:, None, :], -np.inf)


class _Sum:
    """A running sum of exponentials with, for each reading, the share of the terms in which it is an outlier."""

    def __init__(self, log_term: Floats, count: int) -> None:
        self.top = log_term.copy()
        self.total = np.ones(len(log_term))
        self.outlier = np.zeros((len(log_term), count))

    def add(self, rows: NDArray[np.intp], top: Floats, total: Floats, outlier: Floats) -> None:
        """Adds terms given as multiples of exp(top); a top of minus infinity adds nothing."""
        new = np.maximum(self.top[rows], top)
        old_scale, new_scale = np.exp(self.top[rows] - new), np.exp(top - new)
        self.total[rows] = self.total[rows] * old_scale + total * new_scale
        self.outlier[rows] = self.outlier[rows] * old_scale[:, None] + outlier * new_scale[:, None]
        self.top[rows] = new

    def result(self) -> tuple[Floats, Floats]:
        """Log of the sum and the outlier shares."""
        return self.top + np.log(self.total), self.outlier / self.total[:, None]


def _sum_subsets(full: _Full) -> _Sum:
    lanes, count = full.deviation.shape
    total = _Sum(full.log_term, count)
    if count == 0:
        return total
    every, singles = np.arange(lanes), full.single_gains()
    best, terms = _scaled(singles)
    total.add(every, full.log_term + best, terms.sum(axis=1), terms)
    if count >= 2:
        best_pair, terms = _scaled(full.pair_gains().reshape(lanes, -1))
        terms = terms.reshape(lanes, count, count)
        total.add(every, full.log_term + best_pair, terms.sum(axis=(1, 2)), terms.sum(axis=1) + terms.sum(axis=2))
        best = np.maximum(best, best_pair)
    _add_larger(total, full, np.flatnonzero(best > 0))
    return total


def _add_larger(total: _Sum, full: _Full, rows: NDArray[np.intp]) -> None:
    """Adds subsets of three and more: the best one with its neighbours, where outliers help, and the one of all."""
    free = np.isfinite(full.log_out)
    may = free.sum(axis=1)
    rows = rows[may[rows] >= 3]
    nearly_all = np.zeros(len(may), dtype=bool)
    if rows.size:
        found = best_subset(full.deviation[rows], full.correlation[rows], full.log_in[rows], full.log_out[rows])
        size = found.out.sum(axis=1)
        around = np.where(
            size[:, None] + np.where(found.out, -1, 1) > 2, found.log_term[:, None] + found.gains, -np.inf
        )
        best, terms = _scaled(around)
        weight = terms.sum(axis=1)
        total.add(rows, best, weight, np.where(found.out, weight[:, None] - terms, terms))
        itself = size > 2
        total.add(rows[itself], found.log_term[itself], np.ones(itself.sum()), found.out[itself].astype(float))
        nearly_all[rows] = size >= may[rows] - 1
    rest = np.flatnonzero((may >= 3) & ~nearly_all)
    top = np.where(free[rest], full.log_out[rest], full.log_in[rest] - HALF_LOG_TAU).sum(axis=1)
    total.add(rest, top, np.ones(len(rest)), free[rest].astype(float))


def _scaled(logs: Floats) -> tuple[Floats, Floats]:
    """Largest log of each row and all exponentials relative to it; zeros where a row is all minus infinity."""
    best = logs.max(axis=1)
    finite = np.where(np.isfinite(best), best, 0.0)
    return best, np.exp(logs - finite[:, None])
