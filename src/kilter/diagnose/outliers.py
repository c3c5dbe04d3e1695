"""
The best set of outliers among readings that move together, by steepest ascent over single changes.

The readings taken as good are swept into the covariance matrix (the sweep operator of regression): the swept matrix
holds, for each good reading, its precision given the other good ones, and for each outlier its variance given all
good ones, so the gain of changing the mind about any one reading is read off the diagonal, and a change costs one
rank-one update. Two starts guard against outliers that hide each other: all readings good, and all readings bad.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.prediction import Floats

HALF_LOG_TAU = 0.5 * float(np.log(2 * np.pi))


@dataclass(frozen=True)
class Subset:
    """
    The best set found in each lane.

    Args:
        out: Who is an outlier, shape (H, T).
        log_term: Log of the term that this set adds to the likelihood, shape (H,).
        gains: Change of the log term for the change of mind about each reading; none is positive. Shape (H, T)
    """

    out: NDArray[np.bool_]
    log_term: Floats
    gains: Floats


def best_subset(deviation: Floats, correlation: Floats, log_in: Floats, log_out: Floats) -> Subset:
    """
    The better of two ascents.

    Args:
        deviation: In standard deviations, shape (H, T).
        correlation: Shape (H, T, T).
        log_in: Log chance that a reading is good, shape (H, T).
        log_out: Log density as an outlier; minus infinity for a reading that stays good. Shape (H, T)
    """
    fixed = ~np.isfinite(log_out)
    bad = _Swept.all_bad(deviation, correlation, log_in, log_out, fixed)
    good = bad.copy()
    for reading in range(deviation.shape[1]):
        good.change(np.flatnonzero(~fixed[:, reading]), np.full((~fixed[:, reading]).sum(), reading))
    first, second = good.climb(), bad.climb()
    better = second.log_term > first.log_term
    return Subset(
        np.where(better[:, None], second.out, first.out),
        np.where(better, second.log_term, first.log_term),
        np.where(better[:, None], second.gains, first.gains),
    )


class _Swept:
    """The covariance with the deviation as a last row and column, swept by the good readings of each lane."""

    def __init__(
        self, matrix: Floats, out: NDArray[np.bool_], log_term: Floats, odds: Floats, fixed: NDArray[np.bool_]
    ) -> None:
        self.matrix, self.out, self.log_term, self.odds, self.fixed = matrix, out, log_term, odds, fixed

    @classmethod
    def all_bad(
        cls, deviation: Floats, correlation: Floats, log_in: Floats, log_out: Floats, fixed: NDArray[np.bool_]
    ) -> _Swept:
        lanes, count = deviation.shape
        matrix = np.zeros((lanes, count + 1, count + 1))
        matrix[:, :count, :count] = correlation
        matrix[:, :count, count] = matrix[:, count, :count] = deviation
        matrix[:, range(count), range(count)] *= np.where(fixed, -1.0, 1.0)
        term = np.where(fixed, log_in - HALF_LOG_TAU, log_out).sum(axis=1)
        return cls(matrix, ~fixed, term, np.where(fixed, 0.0, log_out - log_in), fixed)

    def copy(self) -> _Swept:
        return _Swept(self.matrix.copy(), self.out.copy(), self.log_term.copy(), self.odds, self.fixed)

    def gains(self, rows: NDArray[np.intp]) -> Floats:
        """Change of the log term for each possible change of mind in these lanes."""
        matrix = self.matrix[rows]
        pivot = np.abs(np.einsum("hii->hi", matrix)[:, :-1])
        change = 0.5 * matrix[:, :-1, -1] ** 2 / pivot + HALF_LOG_TAU + self.odds[rows]
        out = self.out[rows]
        gain = np.where(out, -change, change) - 0.5 * np.log(pivot)
        return np.where(self.fixed[rows], -np.inf, gain)

    def change(self, rows: NDArray[np.intp], reading: NDArray[np.intp], gain: Floats | None = None) -> None:
        """Changes the mind about one reading in each of these lanes."""
        gain = self.gains(rows)[np.arange(len(rows)), reading] if gain is None else gain
        matrix = self.matrix[rows]
        lanes = np.arange(len(rows))
        column = matrix[lanes, :, reading]
        pivot = column[lanes, reading]
        matrix -= column[:, :, None] * (column / pivot[:, None])[:, None, :]
        swept = column / np.abs(pivot)[:, None]
        matrix[lanes, :, reading] = swept
        matrix[lanes, reading, :] = swept
        matrix[lanes, reading, reading] = -1.0 / pivot
        self.matrix[rows] = matrix
        self.out[rows, reading] ^= True
        self.log_term[rows] += gain

    def climb(self) -> Subset:
        """Goes uphill until no single change helps; each step raises the term, so it ends."""
        lanes, count = self.out.shape
        gains = np.empty((lanes, count))
        rows = np.arange(lanes)
        while rows.size:
            here = gains[rows] = self.gains(rows)
            best = here.argmax(axis=1)
            gain = here[np.arange(len(rows)), best]
            going = gain > 1e-9
            rows, best, gain = rows[going], best[going], gain[going]
            self.change(rows, best, gain)
        return Subset(self.out, self.log_term, gains)
