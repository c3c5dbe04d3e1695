"""The time axis of a capture: which columns are time, how even they are, and the interval they make."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np

from kilter.signals.waveform import Floats

WRITTEN = re.compile(r"[-+]?\d*(?:\.(\d*))?(?:[eEdD]([-+]?\d{1,4}))?")
"""A number's digits behind the point and its power of ten."""
BLOCK = 1 << 20
"""Rows looked at together."""
ROUND_FROM = 100
"""Rows from which an interval that comes out as a round number is taken for the one that was set."""
JUMP = 1.5
"""A step of more than so many usual steps, beyond what rounding explains, is a jump."""
CHANCE = 0.25
"""Most chance that a doubtful interval looks round although it is not."""
UNEVEN = 0.05
"""Spread of the steps, as share of the step, from which a time axis is called uneven."""
AGREE = 0.01
"""Two intervals that differ by less are one."""


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """
    An even time axis.

    Args:
        interval: [s]
        start: [s]
        rows: The longest even stretch.
        uncertainty: Relative standard uncertainty of the interval, from the digits written.
        doubts: What was doubted.
    """

    interval: float
    start: float
    rows: slice
    uncertainty: float = 0.0
    doubts: tuple[str, ...] = ()


def rises(column: Floats) -> bool:
    """Whether most steps of a column go up and few go down: a named time column may jump."""
    steps = np.diff(column[:100_000])
    steps = steps[np.isfinite(steps)]
    return bool(len(steps) and np.count_nonzero(steps > 0) > 0 and np.count_nonzero(steps < 0) < len(steps) / 4)


def is_time_like(column: Floats) -> bool:
    """Whether a column rises steadily from row to row, in steps that are nearly alike."""
    part = column[:100_000]
    part = part[np.isfinite(part)]
    if len(part) < 3 or part[-1] <= part[0]:
        return False
    steps = np.diff(part)
    even = abs(part - np.linspace(part[0], part[-1], len(part)))
    return bool(np.all(steps >= 0) and even.max() <= max(3 * np.median(steps), (part[-1] - part[0]) / 50))


def time_axis(column: Floats, quantum: float, told: float | None, factor: float = 1.0) -> TimeAxis | None:
    """
    The axis of a time column; None where the column does not move on.

    Args:
        column: Times. [1 / factor seconds]
        quantum: What the last written digit is worth. [s]
        told: The interval that the header tells, None for none. [s]
        factor: Seconds in a unit of the column.
    """
    usual = _usual_step(column)
    if usual <= 0:
        return None
    doubts: list[str] = []
    rows = _longest_even(column, usual, quantum / factor, doubts)
    count = rows.stop - rows.start - 1
    if _in_pairs(column[rows]):
        count -= 1
        doubts.append(
            "Every time is written twice, as where lowest and highest of a stretch are kept: the two are taken as "
            "following each other, and edges are known to that stretch only."
        )
    interval = float(column[rows.stop - 1] - column[rows.start]) / count * factor
    if interval <= 0:
        return None
    uncertainty = quantum / math.sqrt(6) / (interval * count)
    if count > ROUND_FROM and _is_round(interval, uncertainty):
        interval, uncertainty = float(f"{interval:.2e}"), 0.0
    if quantum > 1.01 * interval:
        doubts.append("The written times have too few digits to tell one sample from the next.")
    spread = float(np.std(np.diff(column[rows][:BLOCK]))) * factor if quantum < 0.02 * interval else 0.0
    if spread > UNEVEN * interval:
        share = 100 * spread / interval
        doubts.append(f"Samples are not evenly spaced: their steps vary by {share:.0f} %; taken as even.")
    if told is not None:
        interval, uncertainty = _with_told(interval, uncertainty, told, doubts)
    return TimeAxis(interval, float(column[rows.start]) * factor, rows, uncertainty, tuple(doubts))


def _in_pairs(column: Floats) -> bool:
    """Whether every time but the next one is written exactly twice."""
    even = len(column) >= 4 and len(column) % 2 == 0
    return even and bool(np.all(column[0::2] == column[1::2]) and np.all(np.diff(column[0::2]) > 0))


def _usual_step(column: Floats) -> float:
    """The commonest rise from row to row; the mean one where rounding makes steps of nothing."""
    steps = np.diff(column[:BLOCK])
    rising = steps[steps > 0]
    if len(rising) == 0:
        return 0.0
    median = float(np.median(rising))
    mean = float(rising.sum() / len(steps))
    return mean if len(rising) < 0.9 * len(steps) and np.all(steps >= 0) else median


def _longest_even(column: Floats, usual: float, quantum: float, doubts: list[str]) -> slice:
    """The longest stretch without a jump forth or back."""
    found = []
    for start in range(0, len(column) - 1, BLOCK):
        steps = np.diff(column[start : start + BLOCK + 1])
        even = (steps <= JUMP * usual + 1.01 * quantum) & (steps >= 0)
        if not even.all():
            found.append(np.flatnonzero(~even) + start)
    breaks = np.concatenate(found) if found else np.empty(0, dtype=np.int64)
    if len(breaks) == 0 or len(breaks) > len(column) // 4:
        return slice(0, len(column))
    edges = np.concatenate(([-1], breaks, [len(column) - 1]))
    lengths = np.diff(edges)
    longest = int(np.argmax(lengths))
    if lengths[longest] < 3:
        return slice(0, len(column))
    doubts.append(
        f"The time column jumps {len(breaks)} times; only its longest even stretch, "
        f"{lengths[longest]} of {len(column)} samples, is used."
    )
    return slice(int(edges[longest]) + 1, int(edges[longest + 1]) + 1)


def _with_told(interval: float, uncertainty: float, told: float, doubts: list[str]) -> tuple[float, float]:
    """The header's interval where it agrees with the column and is told more finely."""
    apart = abs(told / interval - 1)
    if apart <= max(AGREE, 3 * uncertainty):
        return (told, 0.0) if apart <= 4 * uncertainty else (interval, uncertainty)
    doubts.append(
        f"The header tells a sample interval of {told:.6g} s, the time column {interval:.6g} s; the column is used."
    )
    return interval, uncertainty


def quantum_of(samples: list[str], largest: float = 0.0) -> float:
    """
    What the last written digit of numbers is worth; trailing noughts may have been left out, so the finest counts.

    Args:
        samples: Numbers as they are written.
        largest: The largest of all numbers, which may have a greater power of ten than those samples.

    >>> quantum_of(["9.84e-03", "-5.11e-03"], largest=0.0211)
    0.0001
    >>> [quantum_of(one) for one in (["0.0012", "0.001"], ["-5.88E-02"], ["12"], ["7.9e-05", "7.91e-05"])]
    [0.0001, 0.0001, 1.0, 1e-07]
    """
    digits, power, shown = 0, None, 0.0
    for text in samples:
        found = WRITTEN.match(text.strip().strip('"').replace(",", "."))
        if found:
            digits = max(digits, len(found[1] or ""))
            power = max(power or -300, int(found[2])) if found[2] else power
            shown = max(shown, abs(float(re.sub("[dD]", "e", found[0])))) if found[2] else shown
    if power is not None and min(largest, shown) > 0:
        power += max(0, math.floor(math.log10(largest)) - math.floor(math.log10(shown)))
    return float(f"1e{max(-300, min(300, (power or 0) - digits))}")


def _is_round(interval: float, off: float) -> bool:
    """
    Whether an interval is a number of up to three digits to within its own doubt, as instruments set it.

    Where the doubt covers much of the way from one such number to the next, some number fits by chance: none is taken.
    """
    step = 10.0 ** (math.floor(math.log10(interval)) - 2) / interval
    return abs(float(f"{interval:.2e}") / interval - 1) <= max(off, 1e-12) and 2 * off <= CHANCE * step
