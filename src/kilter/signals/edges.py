"""Edges: where a waveform passes from one state to the other, each with the time of its middle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.signals.noise import BLOCK
from kilter.signals.waveform import Floats

Integers = NDArray[np.int64]
WIDEST = 256
"""Samples about an edge that are looked at."""
TOGETHER = 1 << 19
"""Samples gathered at once."""


@dataclass(frozen=True, eq=False)
class Edges:
    """
    The edges of a record.

    Args:
        times: Of the middle, counted in samples from the first. shape (n_edges,)
        rising: Whether each goes up. shape (n_edges,)
        width: Samples that the middle part of a usual edge takes, rounded up.
    """

    times: Floats
    rising: NDArray[np.bool_]
    width: int

    def __len__(self) -> int:
        return len(self.times)


def find_edges(values: Floats, low: float, high: float, half_band: float) -> Edges:
    """
    All passages from below the band about the middle to above it, and back.

    Args:
        values: Samples without gaps.
        low: Low state level.
        high: High state level.
        half_band: Half-width of the band about the middle. [unit of the record]

    Each time is the balance of the areas about the edge: for an edge that is symmetrical about its middle it is the
    half-way instant, and its noise is near the least that any estimate from the same samples can have.
    """
    last, first, rising = _passages(values, (low + high) / 2, half_band)
    if len(last) == 0:
        return Edges(np.empty(0), np.empty(0, dtype=bool), 1)
    times = np.empty(len(last))
    gap = float(np.median(np.diff(last))) if len(last) > 1 else float(len(values))
    for up in {*rising.tolist()}:
        side = rising == up
        wide = float(np.median((first - last)[side]))
        margin = int(min(2 * wide + 1, max(0.4 * gap, 1), WIDEST))
        times[side] = _balanced(values, last[side], first[side], margin, low, high, rising=up)
    return Edges(times, rising, int(np.ceil(np.median(first - last))))


def _passages(values: Floats, middle: float, half_band: float) -> tuple[Integers, Integers, NDArray[np.bool_]]:
    """Last sample of the old state, first of the new, and the direction, for every passage."""
    lasts, firsts, ups = [], [], []
    seen, state = -1, 0
    for start in range(0, len(values), BLOCK):
        part = values[start : start + BLOCK] - middle
        outside = np.flatnonzero(np.abs(part) > half_band)
        if len(outside) == 0:
            continue
        signs = np.where(part[outside] > 0, 1, -1)
        before = np.concatenate(([state or signs[0]], signs[:-1]))
        at = np.concatenate(([seen], outside[:-1] + start))
        changed = np.flatnonzero(signs != before)
        lasts.append(at[changed])
        firsts.append(outside[changed] + start)
        ups.append(signs[changed] > 0)
        seen, state = int(outside[-1]) + start, int(signs[-1])
    if not lasts:
        none = np.empty(0, dtype=np.int64)
        return none, none, np.empty(0, dtype=bool)
    return np.concatenate(lasts), np.concatenate(firsts), np.concatenate(ups)


def _balanced(
    values: Floats, last: Integers, first: Integers, margin: int, low: float, high: float, *, rising: bool
) -> Floats:
    """
    Times of edges of one direction, each that of the step of the same area as the samples about the passage.

    Args:
        margin: Samples on either side of a passage that still belong to the edge; those beyond count as settled.
    """
    middle = (last + first) // 2
    reach = int(min(margin + np.median(first - last) + 1, 2 * WIDEST))
    times = np.empty(len(last))
    together = max(1, TOGETHER // (2 * reach + 1))
    for start in range(0, len(last), together):
        rows = slice(start, start + together)
        index = middle[rows, None] + np.arange(-reach, reach + 1)
        window = np.clip(values[np.clip(index, 0, len(values) - 1)], *_limits(low, high))
        above = (window - low if rising else high - window) / (high - low)
        new, old = index > first[rows, None] + margin, index < last[rows, None] - margin
        area = np.where(new, 1.0, np.where(old, 0.0, above)).sum(axis=1)
        times[rows] = middle[rows] + reach + 0.5 - area
    return times


def _limits(low: float, high: float) -> tuple[float, float]:
    """A spike beyond a state by more than half the swing does not move an edge further."""
    return low - 0.5 * (high - low), high + 0.5 * (high - low)
