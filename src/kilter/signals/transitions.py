"""Transitions: all edges of one direction laid over one another, with their 10, 50 and 90 % instants and overshoot."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kilter.signals.edges import Edges
from kilter.signals.levels import Levels
from kilter.signals.settings import setting
from kilter.signals.waveform import Floats

MOST = 3000
"""Edges laid over one another at most; they are taken evenly from the record."""
PER_BIN = 12
"""Samples wanted in a bin of the mean transition."""
FINEST = 16
"""Bins in a sample interval at most."""
SMOOTH = 0.3
"""Part of its duration over which the mean transition is smoothed to weight samples by its slope."""
SLOPE_FLOOR = 0.15
"""Slopes below this share of the steepest carry little; left out, their noise does not count."""
WINDOW = 0.05
"""A reference level's instant is fitted to the samples within this share of the swing."""


@dataclass(frozen=True, eq=False)
class Transition:
    """
    The mean transition of one direction. [samples]; it is turned upwards where the edges fall.

    Args:
        times: From an edge's own time, bin by bin, rising.
        values: Mean share of the swing there: 0 old state, 1 new state.
        half: Instant of 50 %.
        half_uncertainty: Standard uncertainty.
        duration: From 10 to 90 %.
        duration_uncertainty: Standard uncertainty.
        overshoot: Greatest mean excursion beyond the new state, share of the swing.
        undershoot: Greatest mean excursion beyond the old state before the edge, share of the swing.
        excursion_uncertainty: Standard uncertainty of both.
        edges: Edges laid over one another.
    """

    times: Floats
    values: Floats
    half: float
    half_uncertainty: float
    duration: float
    duration_uncertainty: float
    overshoot: float
    undershoot: float
    excursion_uncertainty: float
    edges: int


@dataclass(frozen=True, eq=False)
class _Pool:
    times: Floats
    values: Floats


def mean_transition(
    values: Floats, edges: Edges, levels: Levels, noise: float, *, rising: bool, room: float, shift: float
) -> Transition | None:
    """
    The mean transition of one direction.

    Args:
        values: Samples without gaps.
        edges: Of the same samples.
        levels: State levels.
        noise: Standard deviation of a sample. [unit of the record]
        rising: Which direction.
        room: Samples that may be looked at on either side: up to the next edge.
        shift: Standard deviation of the edge times against the samples; it widens the mean transition. [samples]

    Returns:
        None where there is no edge of that direction well inside the record.
    """
    reach = int(min(max(8 * edges.width, 8), max(room, 2), 2048))
    times = edges.times[edges.rising == rising]
    times = times[(times > reach + 1) & (times < len(values) - reach - 2)]
    if len(times) == 0:
        return None
    times = times[:: max(1, math.ceil(len(times) * (2 * reach + 1) / 4e6), len(times) // MOST)]
    pool = _pool(values, times, levels, reach, rising=rising)
    bin_times, bin_values = _binned(pool, reach)
    rough = _crossing(bin_times, bin_values, 0.5, 0.0)
    if rough is None:
        return None
    share, doubts = noise / levels.swing, _level_shares(levels, rising=rising)
    half = _instant(pool, bin_times, bin_values, 0.5, rough, share, math.hypot(*doubts) / 2)
    span = _duration(pool, bin_times, bin_values, rough, share, doubts, shift)
    over, under = _excursions(pool, rough, span[0], reach)
    beyond = share / math.sqrt(len(times)) * 1.5
    return Transition(bin_times, bin_values, *half, *span, over, under, beyond, len(times))


def refined_times(values: Floats, edges: Edges, shape: Transition, levels: Levels, *, rising: bool) -> Floats:
    """
    Edge times of one direction by matching the mean transition: the weight of a sample is the slope there.

    With white noise this is the estimate of least variance for a known shape (matched filter; closed form).
    """
    times = edges.times[edges.rising == rising].copy()
    known_times, known, slope = _smooth(shape)
    reach = int(np.ceil(np.abs(known_times[slope > 0]).max())) + 1
    for start in range(0, len(times), max(1, (1 << 19) // (2 * reach + 1))):
        rows = slice(start, start + max(1, (1 << 19) // (2 * reach + 1)))
        index = np.floor(times[rows, None]).astype(np.int64) + np.arange(-reach, reach + 2)
        inside = (index >= 0) & (index < len(values))
        found = _share(values[np.clip(index, 0, len(values) - 1)], levels, rising=rising)
        tau = index - times[rows, None]
        weight = np.interp(tau, known_times, slope, left=0, right=0) * inside
        off = found - np.interp(tau, known_times, known)
        power = np.square(weight).sum(axis=1)
        move = -(weight * off).sum(axis=1) / np.maximum(power, 1e-12)
        times[rows] += np.clip(move, -0.5 * reach, 0.5 * reach)
    return np.asarray(times)


def _smooth(shape: Transition) -> tuple[Floats, Floats, Floats]:
    """Times, values and slope of the mean transition over a part of its duration, so that its noise makes no slope."""
    gap = float(np.median(np.diff(shape.times)))
    wide = SMOOTH * shape.duration if math.isfinite(shape.duration) else 1.0
    bins = int(np.clip(round(wide / gap), 1, len(shape.times) // 4))
    window = np.ones(bins) / bins
    times = np.convolve(shape.times, window, "valid")
    values = np.convolve(shape.values, window, "valid")
    slope = np.gradient(values, times)
    slope[slope < SLOPE_FLOOR * slope.max()] = 0.0
    return times, values, slope


def _share(window: Floats, levels: Levels, *, rising: bool) -> Floats:
    share: Floats = np.asarray((window - levels.low) / levels.swing)
    return share if rising else np.asarray(1 - share)


def _level_shares(levels: Levels, *, rising: bool) -> tuple[float, float]:
    """Uncertainties of the old and the new state as shares of the swing."""
    low, high = levels.low_uncertainty / levels.swing, levels.high_uncertainty / levels.swing
    return (low, high) if rising else (high, low)


def _pool(values: Floats, times: Floats, levels: Levels, reach: int, *, rising: bool) -> _Pool:
    index = np.floor(times[:, None]).astype(np.int64) + np.arange(-reach, reach + 1)
    tau = (index - times[:, None]).ravel()
    shares = _share(values[index], levels, rising=rising).ravel()
    order = np.argsort(tau, kind="stable")
    return _Pool(tau[order], shares[order])


def _binned(pool: _Pool, reach: int) -> tuple[Floats, Floats]:
    """Mean times and values of bins, empty ones left out."""
    bins = int(np.clip(len(pool.times) / PER_BIN, 2 * reach, 2 * reach * FINEST))
    place = np.clip(((pool.times + reach) / (2 * reach) * bins).astype(np.int64), 0, bins - 1)
    counts = np.bincount(place, minlength=bins)
    filled = counts > 0
    times = np.bincount(place, pool.times, bins)[filled] / counts[filled]
    return times, np.bincount(place, pool.values, bins)[filled] / counts[filled]


def _crossing(times: Floats, values: Floats, level: float, start: float) -> float | None:
    """The instant of a level, sought outward from the steepest part about the start."""
    at = int(np.searchsorted(times, start))
    if level <= 0.5:
        below = np.flatnonzero(values[:-1] < level)
        below = below[values[below + 1] >= level]
        candidates = below[below <= at + 1] if level < 0.5 else below
    else:
        candidates = np.flatnonzero((values[:-1] < level) & (values[1:] >= level))
        candidates = candidates[candidates >= at - 1]
    if len(candidates) == 0:
        return None
    k = int(candidates[np.argmin(np.abs(times[candidates] - start))])
    rise = values[k + 1] - values[k]
    return float(times[k] + (level - values[k]) / rise * (times[k + 1] - times[k]))


def _duration(
    pool: _Pool, times: Floats, values: Floats, half: float, noise: float, doubts: tuple[float, float], shift: float
) -> tuple[float, float]:
    """The 10 to 90 % duration and its standard uncertainty; NaN where the record does not hold both instants."""
    found = []
    for level, doubt in zip((setting("low_reference"), setting("high_reference")), doubts, strict=True):
        rough = _crossing(times, values, level, half)
        if rough is None:
            return math.nan, math.inf
        found.append(_instant(pool, times, values, level, rough, noise, doubt))
    duration = found[1][0] - found[0][0]
    smear = (2.563 * shift) ** 2 / (2 * max(duration, 1.0))
    return duration, math.sqrt(found[0][1] ** 2 + found[1][1] ** 2 + smear**2)


def _instant(
    pool: _Pool, times: Floats, values: Floats, level: float, rough: float, noise: float, doubt: float
) -> tuple[float, float]:
    """A level's instant from a curve fitted to the samples about it, and its standard uncertainty."""
    first, last = _window(times, values, level, rough)
    low, high = np.searchsorted(pool.times, (first, last))
    tau, found = pool.times[low:high] - rough, pool.values[low:high] - level
    gap = float(np.median(np.diff(times)))
    if len(tau) < 4 or np.ptp(tau) < 1e-6:
        slope = 2 * WINDOW / max(last - first, gap)
        return rough, math.hypot(math.hypot(noise, doubt) / slope, gap / 12)
    scale = max(float(np.abs(tau).max()), 1e-12)
    degree = min(3 if len(tau) >= 30 else 2 if len(tau) >= 12 else 1, len(np.unique(tau)) - 1)
    design = np.vander(tau / scale, degree + 1, increasing=True)
    theta: Floats = np.linalg.lstsq(design, found, rcond=None)[0].astype(np.float64)
    slope = theta[1] / scale
    if slope <= 0:
        return rough, gap
    moved = _root(theta, scale)
    rounding = math.hypot(noise * float(np.linalg.norm(np.linalg.pinv(design)[0])), doubt)
    bend = 0.0 if degree > 1 else gap / 12
    return rough + moved, math.hypot(rounding / slope, bend)


def _root(theta: Floats, scale: float) -> float:
    """Where the fitted curve passes the level, by Newton steps from the rough instant."""
    x = 0.0
    for _ in range(4):
        value = sum(float(c) * x**k for k, c in enumerate(theta))
        slope = sum(k * float(c) * x ** (k - 1) for k, c in enumerate(theta) if k)
        if slope <= 0:
            return 0.0
        x = float(np.clip(x - value / slope, -1, 1))
    return x * scale


def _window(times: Floats, values: Floats, level: float, rough: float) -> tuple[float, float]:
    """From where to where the mean transition stays within the window about a level."""
    away = np.abs(values - level) > WINDOW
    before, after = times[away & (times < rough)], times[away & (times > rough)]
    return float(before[-1]) if len(before) else float(times[0]), float(after[0]) if len(after) else float(times[-1])


def _excursions(pool: _Pool, half: float, duration: float, reach: int) -> tuple[float, float]:
    """Greatest means beyond the states, in bins of one sample, so that noise does not count as overshoot."""
    if not math.isfinite(duration):
        return 0.0, 0.0
    place = np.clip((pool.times + reach).astype(np.int64), 0, 2 * reach)
    counts = np.maximum(np.bincount(place, minlength=2 * reach + 1), 1)
    means = np.bincount(place, pool.values, 2 * reach + 1) / counts
    instants = np.arange(2 * reach + 1) - reach + 0.5
    after, before = means[instants > half], means[instants < half]
    return max(float(after.max(initial=1.0)) - 1, 0.0), max(-float(before.min(initial=0.0)), 0.0)
