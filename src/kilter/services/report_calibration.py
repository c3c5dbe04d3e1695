"""
Calibration: do suspects called 80 % turn out right 80 % of the time?

Every part that a finished visit named is one case: the probability at the end of the visit, and whether the part was
found faulty. Cases of one visit are not independent, for mostly one of them is right: the interval of a share counts
them as if they were, that of a gap draws whole visits anew (kilter.services.cluster_bootstrap). A recalibration is
judged only on visits that it was not fitted to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, sqrt
from typing import Any

import numpy as np

from kilter.diagnose.recalibration import Recalibration, fitted
from kilter.measure.tables import table
from kilter.services.cluster_bootstrap import ratio_intervals
from kilter.simulate.prediction import Floats

Z = 1.959963984540054
"""Standard normal quantile of a two-sided 95 % interval."""


HEADER = "   called            cases   mean called   turned out so   95 % interval     gap   over visits"
"""Of the lines of a curve; the last column is the 95 % interval of the gap with whole visits drawn anew."""


@dataclass(frozen=True)
class Told:
    """What a visit said about one part, and whether it was so."""

    probability: float
    so: bool


@dataclass(frozen=True)
class Bin:
    """
    One stretch of the reliability curve.

    Args:
        start, end: Probabilities called, from and below.
        cases: How many.
        called: Their mean.
        share: Of those that turned out so.
        low, high: 95 % interval of that share, the cases taken as independent (Wilson).
        gap_low, gap_high: 95 % interval of the gap, the visits taken as independent; too narrow where all cases turned
            out so, or none. NaN where fewer than two visits have a case here, or where nobody said whose case is whose.
    """

    start: float
    end: float
    cases: int
    called: float
    share: float
    low: float
    high: float
    gap_low: float = float("nan")
    gap_high: float = float("nan")

    @property
    def gap(self) -> float:
        """How much more often it was so than was called."""
        return self.share - self.called


@dataclass(frozen=True)
class Curve:
    """
    A reliability curve with its Brier score.

    Args:
        bins: Those with cases in them.
        brier: Mean squared difference between what was called and what was so (Brier, 1950).
    """

    bins: tuple[Bin, ...]
    brier: float

    def worst(self) -> float | None:
        """Largest gap in any bin with enough cases to judge; None where there is none."""
        gaps = [abs(one.gap) for one in self.bins if one.cases >= _number("least_cases")]
        return max(gaps) if gaps else None


@dataclass(frozen=True)
class Calibration:
    """
    How well calls came true.

    Args:
        visits: How many were counted.
        as_called: The curve of the probabilities as they were called.
        recalibrated: The curve after recalibration, each visit by a fit to the others; None where visits are too few.
        curve: The recalibration fitted to all visits.
    """

    visits: int
    as_called: Curve
    recalibrated: Curve | None
    curve: Recalibration

    def plain(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "visits": self.visits,
            "as_called": _plain(self.as_called),
            "recalibrated": _plain(self.recalibrated) if self.recalibrated else None,
            "recalibration": {"below": self.curve.below, "above": self.curve.above, "shift": self.curve.shift},
        }

    def lines(self) -> list[str]:
        """For people."""
        found = [f"Over {self.visits} visits:"]
        for words, curve in (("as called", self.as_called), ("recalibrated", self.recalibrated)):
            if curve is None:
                found.append(f"{words}: too few visits to judge it on others than it was fitted to")
                continue
            found.append(f"{words}: Brier score {curve.brier:.4f}, {_worst(curve)}")
            found.append(HEADER)
            found += [_line(one) for one in curve.bins]
        return found


def calibration_of(visits: Sequence[Sequence[Told]]) -> Calibration:
    """
    How well what was called fits what was so.

    Args:
        visits: Of each visit, what was said about each part; parts below the least that is named are left out.
    """
    least = _number("least_named")
    kept = [[one for one in visit if one.probability >= least] for visit in visits]
    called = np.array([one.probability for visit in kept for one in visit])
    so = np.array([one.so for visit in kept for one in visit], dtype=bool)
    whose = np.array([number for number, visit in enumerate(kept) for _ in visit], dtype=int)
    sd, folds = _number("prior_sd"), int(_number("folds"))
    again = None
    if len(kept) >= 2 * folds:
        other = np.zeros_like(called)
        for fold in range(folds):
            left_out = whose % folds == fold
            other[left_out] = fitted(called[~left_out], so[~left_out], sd)(called[left_out])
        again = curve_of(other, so, whose)
    return Calibration(len(visits), curve_of(called, so, whose), again, fitted(called, so, sd))


def curve_of(called: Floats, so: Any, whose: Any = None) -> Curve:
    """
    The reliability curve of calls.

    Args:
        called: Probabilities, shape (n,).
        so: Whether each turned out so, shape (n,).
        whose: Number of the visit of each call, from 0 on, shape (n,); None leaves the intervals of the gaps open.

    >>> curve_of(np.array([0.8, 0.8, 0.1]), np.array([True, False, False])).brier
    0.23
    """
    truth = np.asarray(so, dtype=bool)
    edges = table("learning/calibration")["bin_edges"]["value"]
    place = np.clip(np.searchsorted(edges, called, side="right") - 1, 0, len(edges) - 2)
    gaps = _gap_intervals(called, truth, place, whose, len(edges) - 1)
    bins = [
        _bin(edges[n], edges[n + 1], called[place == n], truth[place == n], gaps[n])
        for n in range(len(edges) - 1)
        if (place == n).any()
    ]
    brier = float(((called - truth) ** 2).mean()) if len(called) else float("nan")
    return Curve(tuple(bins), round(brier, 12))


def wilson(hits: int, of: int) -> tuple[float, float]:
    """
    95 % interval of a share by Wilson's score method.

    Source: NIST e-Handbook of Statistical Methods, 7.2.4.1 (formula from memory; checked against another library).

    >>> [round(end, 3) for end in wilson(8, 10)]
    [0.49, 0.943]
    """
    share, z2 = hits / of, Z * Z
    middle = (share + z2 / (2 * of)) / (1 + z2 / of)
    half = Z / (1 + z2 / of) * sqrt(share * (1 - share) / of + z2 / (4 * of * of))
    return middle - half, middle + half


def _gap_intervals(called: Floats, so: Any, place: Any, whose: Any, bins: int) -> Floats:
    """95 % interval of each bin's gap with whole visits drawn anew, shape (bins, 2)."""
    if whose is None or len(called) == 0:
        return np.full((bins, 2), np.nan)
    gaps, cases = (np.zeros((int(np.max(whose)) + 1, bins)) for _ in range(2))
    np.add.at(gaps, (whose, place), so - called)
    np.add.at(cases, (whose, place), 1.0)
    return ratio_intervals(gaps, cases, draws=int(_number("bootstrap_draws")))


def _bin(start: float, end: float, called: Floats, so: Any, gap: Floats) -> Bin:
    hits, cases = int(so.sum()), len(called)
    low, high = wilson(hits, cases)
    return Bin(start, end, cases, float(called.mean()), hits / cases, low, high, float(gap[0]), float(gap[1]))


def _number(key: str) -> float:
    return float(table("learning/calibration")[key]["value"])


def _worst(curve: Curve) -> str:
    worst, least = curve.worst(), int(_number("least_cases"))
    if worst is None:
        return f"no bin has {least} cases, so none is judged"
    return f"largest gap in a bin of {least} or more cases: {100 * worst:.1f} points"


def _line(one: Bin) -> str:
    few = "" if one.cases >= _number("least_cases") else "  (few)"
    return (
        f"   {one.start:4.0%} to {one.end:4.0%} {one.cases:10d} {one.called:13.1%} {one.share:15.1%}"
        f" {one.low:8.1%} to {one.high:6.1%} {100 * one.gap:+7.1f} {_span(one):>15s}{few}"
    )


def _span(one: Bin) -> str:
    known = isfinite(one.gap_low)
    return f"{100 * one.gap_low:+.1f} to {100 * one.gap_high:+.1f}" if known else "not known"


def _plain(curve: Curve) -> dict[str, Any]:
    def known(end: float) -> float | None:
        return end if isfinite(end) else None

    rows = [
        {"from": b.start, "to": b.end, "cases": b.cases, "called": b.called, "so": b.share, "low": b.low,
         "high": b.high, "gap_low": known(b.gap_low), "gap_high": known(b.gap_high)}
        for b in curve.bins
    ]  # fmt: skip
    return {"brier": curve.brier, "largest_gap": curve.worst(), "bins": rows}
