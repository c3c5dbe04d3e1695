"""The straight line of edge time over edge number: period, duty, jitter, and how sure they are."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.student import coverage_factor
from kilter.signals.edges import Edges
from kilter.signals.settings import setting
from kilter.signals.waveform import Floats

LEAST_LIMIT = 0.1
"""Edges nearer to the line than this share of their width are never left out: rounding can bunch the others."""


@dataclass(frozen=True, eq=False)
class EdgeLine:
    """
    The regression of all edges, both directions with one period. [samples]

    Args:
        period: Of the waveform.
        period_uncertainty: Standard uncertainty from the scatter of the edges.
        high_time: From a rising edge to the next falling one; NaN without both directions.
        high_uncertainty: Its standard uncertainty.
        jitter: Standard deviation of an edge about the line; noise is in it.
        edges: Edges used.
        left_out: Edges far from the line.
        skipped: Cycles without an edge that the line counts.
        wander: Correlation of neighbouring residuals; near 1 the clock itself wanders.
        residual: Each edge's time less the line's. shape (n_edges,)
    """

    period: float
    period_uncertainty: float
    high_time: float
    high_uncertainty: float
    jitter: float
    edges: int
    left_out: int
    skipped: int
    wander: float
    residual: Floats


def edge_line(edges: Edges) -> EdgeLine | None:
    """The line through the edges; None with fewer than two of one direction."""
    seed = _seed(edges)
    if seed is None:
        return None
    counts = [_numbers(edges.times[side], seed) for side in (edges.rising, ~edges.rising)]
    number = np.empty(len(edges))
    number[edges.rising], number[~edges.rising] = counts
    number[~edges.rising] += _offset(edges, seed)
    kept = np.ones(len(edges), dtype=bool)
    for _ in range(3):
        fit = _fit(edges, number, kept)
        usual = 1.4826 * float(np.median(np.abs(fit.residual[kept])))
        limit = max(setting("edge_outlier") * usual, LEAST_LIMIT * max(edges.width, 1))
        again = np.abs(fit.residual) <= limit
        if np.array_equal(again, kept) or again.sum() < max(4, len(edges) // 2):
            break
        kept = again
    return _line(edges, number, kept, _fit(edges, number, kept))


@dataclass(frozen=True, slots=True)
class _Fit:
    period: float
    fall: float
    rise: float
    covariance: Floats
    residual: Floats
    scatter: float


def _seed(edges: Edges) -> float | None:
    gaps = np.concatenate([np.diff(edges.times[side]) for side in (edges.rising, ~edges.rising)])
    return float(np.median(gaps)) if len(gaps) else None


def _numbers(times: Floats, seed: float) -> Floats:
    """Edge numbers as rounded gaps, summed; the gap that counts as one follows the line so far."""
    if len(times) == 0:
        return np.empty(0)
    steps = np.maximum(1, np.round(np.diff(times) / seed))
    return np.concatenate(([0.0], np.cumsum(steps)))


def _offset(edges: Edges, seed: float) -> float:
    """The number of the first falling edge, so that it follows the rising edge of the same number."""
    if not edges.rising.any() or edges.rising.all():
        return 0.0
    rise, fall = edges.times[edges.rising][0], edges.times[~edges.rising][0]
    return 0.0 if fall > rise else -max(1.0, round((rise - fall) / seed))


def _fit(edges: Edges, number: Floats, kept: NDArray[np.bool_]) -> _Fit:
    up = edges.rising.astype(float)
    both = bool((edges.rising & kept).any() and (~edges.rising & kept).any())
    centre = float(number[kept].mean())
    columns = [number - centre, up, 1 - up] if both else [number - centre, np.ones(len(number))]
    design = np.stack(columns, axis=1)
    covariance = np.linalg.pinv(design[kept].T @ design[kept])
    residual = edges.times - float(edges.times[0])
    theta = np.zeros(design.shape[1])
    for _ in range(2):  # the second step takes away what rounding left of the first
        step = covariance @ (design[kept].T @ residual[kept])
        theta, residual = theta + step, residual - design @ step
    freedom = int(kept.sum()) - design.shape[1]
    scatter = math.sqrt(float(np.square(residual[kept]).sum()) / freedom) if freedom > 0 else math.inf
    fall = float(theta[2]) if both else math.nan
    return _Fit(float(theta[0]), fall, float(theta[1]), covariance, residual, scatter)


def _line(edges: Edges, number: Floats, kept: NDArray[np.bool_], fit: _Fit) -> EdgeLine:
    wander = _wander(fit.residual[kept & edges.rising] if edges.rising.sum() > 1 else fit.residual[kept])
    grown = math.sqrt((1 + wander) / (1 - wander)) if 0.1 < wander < 0.99 else 1.0
    freedom = max(int(kept.sum()) - len(fit.covariance), 1)
    unsure = (
        fit.scatter * grown * coverage_factor(freedom) / coverage_factor(math.inf)
    )  # few edges: wider, as Student's t
    high = fit.fall - fit.rise
    both = math.isfinite(high)
    spread = fit.covariance[1, 1] + fit.covariance[2, 2] - 2 * fit.covariance[1, 2] if both else math.nan
    per_side = number[edges.rising if edges.rising.sum() > 1 else ~edges.rising]
    return EdgeLine(
        period=fit.period,
        period_uncertainty=unsure * math.sqrt(fit.covariance[0, 0]) if math.isfinite(unsure) else math.inf,
        high_time=high,
        high_uncertainty=unsure * math.sqrt(spread) if both and math.isfinite(unsure) else math.inf,
        jitter=fit.scatter,
        edges=int(kept.sum()),
        left_out=int((~kept).sum()),
        skipped=int((np.diff(per_side) - 1).sum()) if len(per_side) > 1 else 0,
        wander=wander,
        residual=fit.residual,
    )


def _wander(residual: Floats) -> float:
    power = float(np.square(residual).sum())
    if len(residual) < 16 or power <= 0:
        return 0.0
    return float((residual[1:] * residual[:-1]).sum() / power)
