"""Accuracy: how far an instrument's reading of one quantity may be off, as its class of data sheets states it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

RECTANGULAR = float(np.sqrt(3.0))
"""Half-width over standard deviation of a rectangular distribution: GUM (JCGM 100:2008), 4.3.7."""


@dataclass(frozen=True, slots=True)
class Accuracy:
    """
    Limits of error of one quantity.

    Args:
        law: 'counts', 'full_scale' or 'arc' (see data/instruments.toml).
        percent: Of the reading, of the full scale, or of the scale's length.
        ranges: Full scales, ascending; mid-scale resistances for 'arc'. [unit]
        digits: Last digits of the display that may be wrong besides.
        counts: Of the display.
    """

    law: str
    percent: float
    ranges: tuple[float, ...]
    digits: float = 0.0
    counts: float = 1.0

    @property
    def top(self) -> float:
        """The largest value it can show; an ohmmeter scale has no end. [unit]"""
        return float("inf") if self.law == "arc" else self.ranges[-1]

    def limits(self, values: ArrayLike) -> Floats:
        """
        Half-width within which the truth is taken to lie, on the lowest range that holds each value. [unit]

        Beyond the top range the top range's law is continued; at infinity the half-width is infinite.

        >>> Accuracy("counts", 0.5, (2.0, 20.0), digits=1, counts=2000).limits([1.0, 5.0]).round(6).tolist()
        [0.006, 0.035]
        """
        size = np.abs(np.asarray(values, dtype=np.float64))
        if self.law == "arc":
            return self._arc(size)
        full = self._full_scale(size)
        share = self.percent / 100
        wide = share * full if self.law == "full_scale" else share * size + self.digits * full / self.counts
        return np.where(np.isinf(size), np.inf, wide)

    def standard(self, values: ArrayLike) -> Floats:
        """Standard uncertainty of each value, the limits taken as rectangular. [unit]"""
        return self.limits(values) / RECTANGULAR

    def _full_scale(self, size: Floats) -> Floats:
        ranges = np.asarray(self.ranges, dtype=np.float64)
        if self.law == "full_scale":
            place = np.searchsorted(ranges, size, side="left")
        else:
            place = np.searchsorted(ranges, size, side="right")  # a 2000-count display shows 1999, not 2000
        return ranges[np.minimum(place, len(ranges) - 1)]

    def _arc(self, size: Floats) -> Floats:
        """A pointer at m/(R+m) of the arc: an error e of its length is e (R+m)²/m in R; best range taken."""
        middles = np.asarray(self.ranges)
        with np.errstate(over="ignore"):
            each = self.percent / 100 * (size[..., None] + middles) ** 2 / middles
        return each.min(axis=-1)  # type: ignore[no-any-return]
