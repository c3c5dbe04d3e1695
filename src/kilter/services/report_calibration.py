"""
Calibration: do suspects called 80 % turn out right 80 % of the time?

Every part that a finished visit named is one case: the probability at the end of the visit, and whether the part was
found faulty. Cases of one visit are not independent, for mostly one of them is right; the intervals count them as if
they were. A recalibration is judged only on visits that it was not fitted to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Any

import numpy as np

from kilter.diagnose.recalibration import Recalibration, fitted
from kilter.measure.tables import table
from kilter.simulate.prediction import Floats

Z = 1.959963984540054
"""Standard normal quantile of a two-sided 95 % interval."""


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
        low, high: 95 % interval of that share (Wilson).
    """

    start: float
    end: float
    cases: int
    called: float
    share: float
    low: float
    high: float

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
            found.append("   called            cases   mean called   turned out so   95 % interval     gap")
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
        again = curve_of(other, so)
    return Calibration(len(visits), curve_of(called, so), again, fitted(called, so, sd))


def curve_of(called: Floats, so: Any) -> Curve:
    """
    The reliability curve of calls.

    >>> curve_of(np.array([0.8, 0.8, 0.1]), np.array([True, False, False])).brier
    0.23
    """
    truth = np.asarray(so, dtype=bool)
    edges = table("learning/calibration")["bin_edges"]["value"]
    place = np.clip(np.searchsorted(edges, called, side="right") - 1, 0, len(edges) - 2)
    bins = [
        _bin(edges[n], edges[n + 1], called[place == n], truth[place == n])
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


def _bin(start: float, end: float, called: Floats, so: Any) -> Bin:
    hits = int(so.sum())
    return Bin(start, end, len(called), float(called.mean()), hits / len(called), *wilson(hits, len(called)))


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
        f" {one.low:8.1%} to {one.high:6.1%} {100 * one.gap:+7.1f}{few}"
    )


def _plain(curve: Curve) -> dict[str, Any]:
    rows = [
        {"from": b.start, "to": b.end, "cases": b.cases, "called": b.called, "so": b.share, "low": b.low,
         "high": b.high}
        for b in curve.bins
    ]  # fmt: skip
    return {"brier": curve.brier, "largest_gap": curve.worst(), "bins": rows}
