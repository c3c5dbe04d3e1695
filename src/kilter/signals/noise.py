"""What a record's samples are like: their step, their noise, their extremes, and the doubts that follow from them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kilter.signals.settings import setting
from kilter.signals.waveform import Floats

HEAD = 1 << 16
BLOCK = 1 << 20
FEWEST_CODES = 4
"""Codes from which their distance tells the converter's step; two levels alone may be any number of steps apart."""
KEPT = 0.5
"""Share of the smallest third differences that tell the noise: edges are in the rest."""
KEPT_VARIANCE = 0.1426
"""Variance of a Gaussian within its central half: 1 - 4 z f(z) with z = 0.6745 (closed form)."""


@dataclass(frozen=True, slots=True)
class Spread:
    """
    Sizes of a record. [unit of the record]

    Args:
        low: Least sample.
        high: Greatest sample.
        mean: Of all samples.
        rms: About the mean.
        step: Distance of two neighbouring codes of the converter; 0 where none shows.
        noise: Standard deviation of the noise between neighbouring samples.
        count: Samples.
    """

    low: float
    high: float
    mean: float
    rms: float
    step: float
    noise: float
    count: int

    @property
    def swing(self) -> float:
        """From the least to the greatest sample."""
        return self.high - self.low


def spread_of(values: Floats) -> Spread:
    """
    Sizes of a record without gaps.

    >>> spread = spread_of(np.array([0.0, 1.0, 2.0, 3.0] * 50))
    >>> spread.swing, spread.mean, spread.step
    (3.0, 1.5, 1.0)
    """
    low, high = float(values.min()), float(values.max())
    mean = float(values.mean())
    square = sum(float(np.square(values[k : k + BLOCK] - mean).sum()) for k in range(0, len(values), BLOCK))
    step = step_of(values)
    return Spread(low, high, mean, math.sqrt(square / len(values)), step, noise_of(values, step), len(values))


def noise_of(values: Floats, step: float) -> float:
    """
    Standard deviation of white noise, from third differences in several places of the record.

    A third difference of white noise has the variance 20 (1, 3, 3, 1 squared and summed). Rounding to steps adds
    step² / 12 where the noise is large enough to see it.
    """
    if len(values) < 8:
        return 0.0
    starts = np.linspace(0, max(0, len(values) - HEAD // 8), 8).astype(int)
    parts = [values[k : k + HEAD // 8] for k in starts] if len(values) > HEAD else [values]
    third = np.concatenate([np.diff(part, 3) for part in parts])
    square = np.square(third)
    lower = np.partition(square, int(KEPT * len(square)))[: max(1, int(KEPT * len(square)))]
    noise = math.sqrt(float(lower.mean()) / KEPT_VARIANCE / 20)
    return max(noise, step / math.sqrt(12))


def step_of(values: Floats) -> float:
    """
    The step of the converter; 0 where the samples lie on no grid.

    >>> step_of(np.round(np.random.default_rng(1).normal(size=1000) / 0.04) * 0.04).__round__(9)
    0.04
    """
    apart = np.diff(np.unique(values[:HEAD]))
    apart = apart[apart > 1e-9 * max(abs(float(values.max())), abs(float(values.min())), 1e-300)]
    if len(apart) < FEWEST_CODES - 1:
        return 0.0
    least = float(apart.min())
    near = apart[apart < 1.5 * least]
    step = float(near.mean())
    parts = apart / step
    on_grid = np.abs(parts - np.round(parts)) < 0.2
    return step if on_grid.mean() > 0.95 and len(apart) < len(values[:HEAD]) / 2 else 0.0


def rounding_error(noise: float, step: float) -> float:
    """
    Standard uncertainty of a mean of rounded samples that averaging does not take away.

    Args:
        noise: Standard deviation of the rounded samples, rounding included.
        step: What they are rounded to.

    Gaussian noise of the standard deviation s lets the mean of rounded values err by at most
    step / pi * exp(-2 pi² s² / step²) (Fourier series of the rounding error); taken as an arcsine distribution, and
    never above step / sqrt(12).
    """
    if step <= 0:
        return 0.0
    own = max(noise**2 - step**2 / 4, 0.0)  # two codes that alternate can have a quarter without any noise to speak of
    ripple = step / math.pi * math.exp(-2 * math.pi**2 * own / step**2) / math.sqrt(2)
    return min(ripple, step / math.sqrt(12))


def clipped(values: Floats, spread: Spread, *, two_states: bool) -> tuple[float, float]:
    """
    Shares of samples that look cut off, below and above; 0 where nothing does.

    A sample counts where it stands in a run of several that are exactly equal to the extreme. At two states such runs
    are usual unless noise would break them; elsewhere the extreme code must be far commoner than those beside it: at
    the peak of a sine it is 3.4 times as common as the next five (closed form).
    """
    if spread.swing == 0 or (two_states and spread.noise < 0.6 * spread.step):
        return 0.0, 0.0
    below = _flat(values, spread.low, 1, spread, two_states=two_states)
    return below, _flat(values, spread.high, -1, spread, two_states=two_states)


def _flat(values: Floats, extreme: float, inward: int, spread: Spread, *, two_states: bool) -> float:
    run, held, beside = int(setting("clip_run")), 0, 0
    near = inward * (5.5 * spread.step or 0.05 * spread.swing)
    for start in range(0, len(values), BLOCK):
        part = values[start : start + BLOCK]
        at = part == extreme
        beside += int(np.count_nonzero(np.abs(part - extreme - near / 2) <= abs(near) / 2)) - int(np.count_nonzero(at))
        padded = np.concatenate(([False], at, [False]))
        edges = np.flatnonzero(padded[1:] != padded[:-1])
        lengths = edges[1::2] - edges[::2]
        held += int(lengths[lengths >= run].sum())
    share = held / len(values)
    common = two_states or held > setting("clip_excess") * beside / 5
    return share if share > setting("clip_share") and common else 0.0


def longest_whole(values: Floats) -> slice:
    """The longest stretch without a gap (NaN)."""
    gaps = np.flatnonzero(~np.isfinite(values))
    if len(gaps) == 0:
        return slice(0, len(values))
    edges = np.concatenate(([-1], gaps, [len(values)]))
    longest = int(np.argmax(np.diff(edges)))
    return slice(int(edges[longest]) + 1, int(edges[longest + 1]))
