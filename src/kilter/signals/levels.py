"""State levels of a waveform, by the modes of the two halves of its histogram (IEEE Std 181)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.signals.noise import BLOCK, Spread, rounding_error
from kilter.signals.settings import setting
from kilter.signals.waveform import Floats


@dataclass(frozen=True, slots=True)
class Levels:
    """
    The two state levels with standard uncertainties. [unit of the record]

    Args:
        low: Level of the low state.
        high: Level of the high state.
        low_uncertainty: From noise, steps and unsettled samples; without the instrument's gain and zero.
        high_uncertainty: Likewise.
        share: Share of the samples near the two levels.
        two_states: Whether the waveform rests at two levels; where it does not, they are its commonest extremes.
    """

    low: float
    high: float
    low_uncertainty: float
    high_uncertainty: float
    share: float
    two_states: bool

    @property
    def swing(self) -> float:
        """Distance of the levels."""
        return self.high - self.low

    def at(self, share: float) -> float:
        """The reference level at that share of the swing."""
        return self.low + share * self.swing


def histogram(values: Floats, spread: Spread) -> tuple[Floats, Floats]:
    """
    Counts and bin middles: about a hundred bins, each of whole converter steps with a code in its middle.

    Returns:
        counts, shape (n_bins,), and middles. [unit of the record]
    """
    wide = spread.swing / setting("histogram_bins")
    if spread.step > 0:
        wide = max(1, round(wide / spread.step)) * spread.step
    bins = int(spread.swing / wide) + 2
    counts = np.zeros(bins)
    for start in range(0, len(values), BLOCK):
        index = ((values[start : start + BLOCK] - spread.low) * (1 / wide) + 0.5).astype(np.int64)
        counts += np.bincount(index, minlength=bins)[:bins]
    return counts, np.asarray(spread.low + wide * np.arange(bins), dtype=np.float64)


def state_levels(values: Floats, spread: Spread) -> Levels:
    """
    The levels by histogram modes, refined to the mean of the samples about each.

    Args:
        values: Without gaps, not all equal.
        spread: Of the same samples.

    Source: IEEE Std 181 as published descriptions tell its histogram method (its text was not seen); the refining mean
        removes the bias of a mode to the middle of its bin.
    """
    counts, middles = histogram(values, spread)
    half = len(counts) // 2
    low, high = (float(middles[int(np.argmax(counts[:half]))]), float(middles[half + int(np.argmax(counts[half:]))]))
    swing = high - low
    band = max(setting("state_band") * swing, 2 * spread.noise)
    near = (np.abs(middles - low) <= band) | (np.abs(middles - high) <= band)
    share = float(counts[near].sum() / counts.sum())
    quiet = swing > 0 and spread.noise <= setting("largest_noise") * swing
    reach = min(max(3 * spread.noise, 1.5 * (middles[1] - middles[0])), 0.4 * swing)
    (low, low_doubt), (high, high_doubt) = (_refined(values, level, reach, spread) for level in (low, high))
    return Levels(low, high, low_doubt, high_doubt, share, bool(quiet and share >= setting("state_share")))


def settled_levels(values: Floats, first: Levels, settled: NDArray[np.int8], spread: Spread) -> Levels:
    """
    The levels from settled samples only.

    Args:
        values: All samples.
        first: Levels from the whole histogram.
        settled: For each sample -1 or -2 (low state), 1 or 2 (high state) or 0 (near an edge); the greater number in
            the later half of each stay.
        spread: Of all samples.
    """
    low, low_doubt = _settled(values, first.low, first.low_uncertainty, settled, -1, first.swing, spread)
    high, high_doubt = _settled(values, first.high, first.high_uncertainty, settled, 1, first.swing, spread)
    return Levels(low, high, low_doubt, high_doubt, first.share, first.two_states)


def _settled(
    values: Floats, level: float, doubt: float, settled: NDArray[np.int8], state: int, swing: float, spread: Spread
) -> tuple[float, float]:
    """Mean of the settled samples of one state; where the later half still differs, it counts alone."""
    (early, early_doubt, noise), (late, late_doubt, _) = (_mean(values, level, settled, state * k) for k in (1, 2))
    if not math.isfinite(early_doubt + late_doubt):
        return level, math.hypot(doubt, 0.02 * swing)
    rounding = rounding_error(min(noise, spread.noise), spread.step)
    apart = abs(late - early) - 1.5 * math.hypot(early_doubt, late_doubt)
    if apart > 0:
        return late, math.hypot(late_doubt, rounding, apart / 2)
    mean, unsure = _weighted(early, early_doubt, late, late_doubt, rounding)
    return mean, math.hypot(unsure, (late - early) / 3)  # a tail of a third of that would not show


def _weighted(early: float, early_doubt: float, late: float, late_doubt: float, rounding: float) -> tuple[float, float]:
    least = max(1e-12 * abs(early), 1e-12 * abs(late), 1e-150)  # squares of smaller numbers vanish
    one, two = (1 / max(doubt, least) ** 2 for doubt in (early_doubt, late_doubt))
    return (one * early + two * late) / (one + two), math.hypot(1 / math.sqrt(one + two), rounding)


def _mean(values: Floats, level: float, settled: NDArray[np.int8], code: int) -> tuple[float, float, float]:
    """Mean of the samples of one code, its standard uncertainty (endless with fewer than four) and their spread."""
    count, total, square = 0, 0.0, 0.0
    for start in range(0, len(values), BLOCK):
        part = values[start : start + BLOCK][settled[start : start + BLOCK] == code] - level
        count, total, square = count + len(part), total + float(part.sum()), square + float(np.square(part).sum())
    if count < 4:
        return level, math.inf, 0.0
    mean = total / count
    deviation = math.sqrt(max(square / count - mean**2, 0.0))
    return level + mean, deviation / math.sqrt(count - 1), deviation


def _refined(values: Floats, level: float, reach: float, spread: Spread) -> tuple[float, float]:
    """Mean of the samples about a level, moved to where it rests; and its standard uncertainty."""
    count, scatter = 1, spread.noise
    step = max(1, len(values) // (1 << 20))
    some = values[::step]
    for _ in range(3):
        part = some[np.abs(some - level) <= reach]
        if len(part) == 0:
            break
        level, count, scatter = float(part.mean()), len(part), float(part.std())
    return level, math.hypot(scatter / math.sqrt(count), rounding_error(spread.noise, spread.step))
