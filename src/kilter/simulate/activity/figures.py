"""From signals to numbers on a quantity's scale: mean, spread and the chance that the reading could be anything."""

from __future__ import annotations

import numpy as np

from kilter.measure.scales import scaled_range, scaled_uncertainty, to_scale
from kilter.simulate.activity.block_kinds import judgement
from kilter.simulate.activity.signal import HIGH, LOW, UNPOWERED, Floats, Signal

Figures = tuple[Floats, Floats, Floats]
"""Mean and spread [scaled], and unknown, each of shape (H,)."""


def frequency(signal: Signal, lanes: int) -> Figures:
    """What a counter shows; a line that does not move reads 0 Hz."""
    spread = np.where(signal.moves, signal.frequency * signal.spread, 0.0)
    return _over_samples("frequency", np.where(signal.moves, signal.frequency, 0.0), spread, signal.doubt, lanes)


def swing(signal: Signal, lanes: int) -> Figures:
    """Peak-to-peak size; a line that does not move has none."""
    size = np.where(signal.moves, signal.size, 0.0)
    return _over_samples("signal", size, size * judgement("size", "spread"), signal.doubt, lanes)


def voltage(signal: Signal, lanes: int) -> Figures:
    """DC volts of a supply's output."""
    off = np.isin(signal.level, (LOW, UNPOWERED))
    size = np.where(signal.level == HIGH, signal.size, np.where(off, 0.0, np.nan))
    return _over_samples("voltage", size, np.abs(size) * signal.spread, signal.doubt, lanes)


def _over_samples(key: str, value: Floats, spread: Floats, doubt: Floats, lanes: int) -> Figures:
    """
    Mean and spread over the samples that are known; the others count towards unknown.

    Where nothing is known the mean is the middle of the scale and the spread that of 'anywhere on it', so that no NaN
    leaves here.
    """
    value, spread, doubt = (np.asarray(a, np.float64) for a in np.broadcast_arrays(value, spread, doubt))
    known = ~np.isnan(value)
    doubt = np.where(known, doubt, 1.0)
    filled = np.where(known, value, 0.0)
    scaled = to_scale(key, filled)
    own = scaled_uncertainty(key, filled, np.where(known, spread, 0.0))
    weight = 1.0 - doubt
    total = weight.sum(1)
    share = weight / np.where(total > 0.0, total, 1.0)[:, None]
    mean = (share * scaled).sum(1)
    variance = (share * (own**2 + (scaled - mean[:, None]) ** 2)).sum(1)
    low, high = scaled_range(key)
    nothing = total <= 0.0
    mean = np.where(nothing, (low + high) / 2.0, mean)
    sd = np.where(nothing, (high - low) / np.sqrt(12.0), np.sqrt(variance))
    return _per_lane(mean, lanes), _per_lane(sd, lanes), _per_lane(doubt.mean(1), lanes)


def _per_lane(values: Floats, lanes: int) -> Floats:
    return np.broadcast_to(values, (lanes,)).copy()
