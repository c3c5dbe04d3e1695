"""A stretch of a meter log, and from when on it was steady."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np

from kilter.measure.errors import BadInput
from kilter.signals.meter_log import MeterLog
from kilter.signals.settings import setting

ONE_SIDED = 1.645
"""Of a normal distribution 5 % lie below minus so many standard deviations."""


def span_of(log: MeterLog, start: float | None = None, end: float | None = None) -> MeterLog:
    """
    The entries from a time to another, both included; their times still count from the first entry of the whole log.

    Args:
        log: The whole.
        start, end: None for its own. [s]

    Raises:
        BadInput: No entry lies between.
    """
    low, high = -np.inf if start is None else start, np.inf if end is None else end
    within = (log.seconds >= low) & (log.seconds <= high)
    if not within.any():
        there = f"{log.seconds[0]:g} s to {log.seconds[-1]:g} s" if len(log.seconds) else "no entries at all"
        raise BadInput(f"Cannot take a stretch of the log {log.source}", f"no entry from {low:g} s to {high:g} s",
                       there, "Choose another stretch.")  # fmt: skip
    return replace(log, seconds=log.seconds[within], values=log.values[within])


def moves(log: MeterLog) -> bool | None:
    """
    Whether values move more slowly than they scatter, as of something that warms up; None where it cannot be told.

    Neighbours of a steady log differ as much as any two entries do. The mean square difference of neighbours over the
    variance is 2 for independent values, with a variance of 4 (n - 2) / (n^2 - 1) for normal ones; it is held to be
    too small at the 95 % level, one-sided. A straight line's slope would not do: a bend hides it.

    Source: von Neumann, Annals of Mathematical Statistics 12 (1941), 367-395 (from memory).
    """
    values = log.values[np.isfinite(log.values)]
    count = len(values)
    if count < setting("settling_entries") or count < len(log.values):
        return None
    spread = float(values.var(ddof=1))
    if spread <= 0.0:
        return False
    ratio = float((np.diff(values) ** 2).mean()) / spread
    return ratio < 2.0 - ONE_SIDED * 2.0 * sqrt((count - 2) / (count**2 - 1))


def steady_from(log: MeterLog) -> float | None:
    """
    The earliest of a few times from which on to the end nothing moves slowly; None where there is none. [s]

    Not seen is not the same as none: the end of a log may drift more slowly than its scatter shows.
    """
    count, tries = len(log.values), int(setting("settling_tries"))
    for step in range(tries):
        first = count * step // tries
        rest = replace(log, seconds=log.seconds[first:], values=log.values[first:])
        if moves(rest) is False:
            return float(log.seconds[first])
    return None
