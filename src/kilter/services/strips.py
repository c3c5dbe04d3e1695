"""Strips: the limits of an item, the guard bands beside them and the reading, as places on a line from 0 to 1."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from kilter.measure.scales import scaled_uncertainty, to_scale
from kilter.planning.proof.decide import acceptance_interval
from kilter.services.prove_repair import Proved

LOW, HIGH = 0.25, 0.75
"""Where the limits stand, so that readings beyond them have room."""
GUARDS_SHOWN, BEYOND = 4.0, 1.3
"""Half the strip of a single limit: so many guard bands, or so many times the distance of the reading, if larger."""


@dataclass(frozen=True)
class Strip:
    """
    Places between 0, the left end, and 1, the right end; a reading may lie beyond both.

    Args:
        limits: One or two.
        accepted: Readings that are accepted, as far as they are on the strip; None where this instrument accepts none.
        guards: Where it can neither accept nor reject.
        value: The reading; None where nothing was read.
        bar: Half-width of the interval that leaves out the risk on either side.
    """

    limits: tuple[float, ...]
    accepted: tuple[float, float] | None
    guards: tuple[tuple[float, float], ...]
    value: float | None
    bar: float


def strip_of(one: Proved, risk: float) -> Strip | None:
    """
    The strip of a judged item; None for words, and for what has no limits.

    Args:
        one: Judged.
        risk: Of a wrong verdict, as it was judged with.
    """
    item, reading = one.item, one.reading
    if not item.known or item.words or (math.isinf(item.low) and math.isinf(item.high)):
        return None
    if reading is None or reading.value is None:
        return _placed(item.low, item.high, math.nan, 0.0, risk)
    key = reading.quantity
    value = float(to_scale(key, np.array(reading.value)))
    spread = float(scaled_uncertainty(key, reading.value, reading.uncertainty))
    return _placed(item.low, item.high, value, spread, risk)


def _placed(low: float, high: float, value: float, spread: float, risk: float) -> Strip:
    """The strip of scaled figures; a value that is NaN was not read."""
    read = not math.isnan(value)
    guard = NormalDist().inv_cdf(1 - risk) * spread
    if math.isfinite(low) and math.isfinite(high):
        start, width = low - (high - low) * LOW / (HIGH - LOW), (high - low) / (HIGH - LOW)
    else:
        limit = low if math.isfinite(low) else high
        away = abs(value - limit) if read and math.isfinite(value) else 0.0
        half = max(GUARDS_SHOWN * guard, BEYOND * away, 1e-9 * max(1.0, abs(limit)))
        start, width = limit - half, 2 * half

    def at(scaled: float) -> float:
        return (scaled - start) / width

    limits = tuple(at(one) for one in (low, high) if math.isfinite(one))
    accepts = acceptance_interval(spread, low, high, risk) if read else None
    accepted = (max(0.0, at(accepts[0])), min(1.0, at(accepts[1]))) if accepts else None
    guards = _guards(low, high, guard, accepts) if read and guard > 0 else ()
    shown = tuple((at(left), at(right)) for left, right in guards)
    return Strip(limits, accepted, shown, at(value) if read else None, guard / width if read else 0.0)


def _guards(
    low: float, high: float, guard: float, accepts: tuple[float, float] | None
) -> tuple[tuple[float, float], ...]:
    """From where readings are rejected to where they are accepted; one band where none are."""
    if accepts is None:
        return ((low - guard, high + guard),)
    bands = []
    if math.isfinite(low):
        bands.append((low - guard, accepts[0]))
    if math.isfinite(high):
        bands.append((accepts[1], high + guard))
    return tuple(bands)
