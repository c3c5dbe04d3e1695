"""A log of one quantity over minutes or hours: how steady it is, and what one reading it amounts to."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, inf, sqrt

import numpy as np
from numpy.typing import NDArray

from kilter.measure.measured import Measured
from kilter.measure.student import coverage_factor

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class MeterLog:
    """
    What a meter wrote down.

    Args:
        source: File and column, for people.
        unit: Key of the unit, without prefix; '' where the file does not tell.
        seconds: From the first entry, ascending, shape (n,).
        values: In the unit; infinite where the meter showed over limit, shape (n,).
        began: ISO 8601 of the first entry as the file has it, '' where it tells no date.
        warnings: One sentence for each thing left out or doubted.
    """

    source: str
    unit: str
    seconds: Floats
    values: Floats
    began: str = ""
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Steadiness:
    """
    How steady a log is.

    Args:
        mean: With the scatter of single values as its uncertainty. [unit of the log]
        lowest, highest: [unit]
        drift: Slope of the straight line through the values, with its standard uncertainty; None where it cannot be
            told. [unit of the log, per hour]
        drifts: Whether the slope differs from zero at the 95 % level.
        scatter: Standard deviation about that line. [unit]
        last: Mean of the last tenth of the entries. [unit]
        entries: Number of finite values.
        over_limit: Number of entries over the limit.
        hours: Length of the log.
    """

    mean: Measured
    lowest: float
    highest: float
    drift: Measured | None
    drifts: bool
    scatter: float
    last: float
    entries: int
    over_limit: int
    hours: float


def steadiness(log: MeterLog) -> Steadiness:
    """
    Looks at a log as a whole.

    The uncertainty of the slope takes the residuals as correlated: their lag-one correlation reduces the number of
    independent entries (von Storch and Zwiers, Statistical Analysis in Climate Research, 1999, section 6.6).
    """
    finite = np.isfinite(log.values)
    seconds, values = log.seconds[finite], log.values[finite]
    over = int((~finite).sum())
    hours = float(log.seconds[-1] - log.seconds[0]) / 3600.0 if len(log.seconds) else 0.0
    if not len(values):
        return Steadiness(Measured(inf, log.unit), inf, inf, None, False, 0.0, inf, 0, over, hours)
    drift, significant, scatter = _line(seconds / 3600.0, values, log.unit)
    spread = float(values.std(ddof=1)) if len(values) > 1 else 0.0
    tail = values[-max(1, len(values) // 10) :]
    return Steadiness(
        mean=Measured(float(values.mean()), log.unit, spread),
        lowest=float(values.min()),
        highest=float(values.max()),
        drift=drift,
        drifts=significant,
        scatter=scatter,
        last=float(tail.mean()),
        entries=len(values),
        over_limit=over,
        hours=hours,
    )


def reading_uncertainty(found: Steadiness, instrument: float) -> float:
    """
    Standard uncertainty of 'the value' of a log: the meter's own, and that the value moved meanwhile. [unit]

    Args:
        found: Of the log.
        instrument: Standard uncertainty of one reading.
    """
    return hypot(instrument, found.mean.uncertainty)


def _line(hours: Floats, values: Floats, unit: str) -> tuple[Measured | None, bool, float]:
    """Slope, whether it is significant, and the standard deviation about the line."""
    count = len(values)
    apart = hours - hours.mean()
    lever = float((apart**2).sum())
    if count < 3 or lever <= 0.0:
        return None, False, float(values.std(ddof=1)) if count > 1 else 0.0
    slope = float((apart * values).sum()) / lever
    rest = values - values.mean() - slope * apart
    variance = float((rest**2).sum()) / (count - 2)
    if variance <= 0.0:
        return Measured(slope, unit), slope != 0.0, 0.0
    alike = max(0.0, float((rest[1:] * rest[:-1]).sum() / (rest**2).sum()))
    independent = max(count * (1.0 - alike) / (1.0 + alike), 3.0)
    error = sqrt(variance * (count - 2) / max(independent - 2, 1.0) / lever)
    return Measured(slope, unit, error), abs(slope) > coverage_factor(max(independent - 2, 1.0)) * error, sqrt(variance)
