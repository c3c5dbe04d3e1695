"""The drawing of a meter log over time: every spike kept, over limit marked at the top, a chosen stretch shaded."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kilter.measure.measured import engineering
from kilter.signals.envelope import envelope
from kilter.signals.meter_log import MeterLog
from kilter.web.round_numbers import round_numbers

WIDTH, HEIGHT, LEFT, BELOW = 1000.0, 260.0, 140.0, 40.0
COLUMNS = 800
TICKS = 4
UNITS = ((3600.0, "h"), (60.0, "min"), (1.0, "s"), (1e-3, "ms"))
"""Of the time axis, the largest of which two fit."""


@dataclass(frozen=True)
class LogDrawing:
    """
    The drawing, in units of its own.

    Args:
        lines: Points of each stretch without a gap, as SVG writes them.
        over: Places of entries over the limit.
        ticks: Height and words, of the values.
        times: Place and words, of the time.
        shaded: Begin and width of the chosen stretch; None for none.
        width, height: Of the whole.
        left, right, bottom: Of the frame.
    """

    lines: tuple[str, ...]
    over: tuple[float, ...]
    ticks: tuple[tuple[float, str], ...]
    times: tuple[tuple[float, str], ...]
    shaded: tuple[float, float] | None
    width: float = WIDTH
    height: float = HEIGHT + BELOW
    left: float = LEFT
    right: float = WIDTH - 10
    bottom: float = HEIGHT


def draw_log(log: MeterLog, start: float | None, end: float | None) -> LogDrawing:
    """
    The drawing.

    Args:
        log: The whole.
        start, end: Of the chosen stretch. [s]
    """
    finite = log.values[np.isfinite(log.values)]
    low, high = (float(finite.min()), float(finite.max())) if len(finite) else (0.0, 1.0)
    room = 0.08 * (high - low) or max(abs(high), 1e-9) * 0.05
    low, high = low - room, high + room
    first, last = (float(log.seconds[0]), float(log.seconds[-1])) if len(log.seconds) else (0.0, 1.0)
    last = max(last, first + 1e-9)

    def across(seconds: float) -> float:
        return LEFT + (WIDTH - 10 - LEFT) * (seconds - first) / (last - first)

    def down(value: float) -> float:
        return HEIGHT - (HEIGHT - 10) * (value - low) / (high - low)

    places, values = envelope(np.where(np.isfinite(log.values), log.values, np.nan), COLUMNS)
    at = [(across(float(log.seconds[int(place)])), value) for place, value in zip(places, values, strict=True)]
    begin, stop = (first if start is None else start), (last if end is None else end)
    shaded = None
    if start is not None or end is not None:
        left, right = (float(np.clip(across(one), LEFT, WIDTH - 10)) for one in (begin, stop))
        shaded = (left, max(right - left, 2.0))
    unit, words = next(((each, name) for each, name in UNITS if last - first >= 2 * each), UNITS[-1])
    return LogDrawing(
        tuple(" ".join(f"{x:.1f},{down(y):.1f}" for x, y in run) for run in _runs(at)),
        tuple(sorted({round(across(float(one)), 0) for one in log.seconds[np.isinf(log.values)]})),
        tuple((down(one), engineering(one, log.unit, 4)) for one in round_numbers(low, high, TICKS)),
        tuple((across(one * unit), f"{one:g} {words}") for one in round_numbers(first / unit, last / unit, TICKS)),
        shaded,
    )  # fmt: skip


def _runs(at: list[tuple[float, float]]) -> list[list[tuple[float, float]]]:
    runs: list[list[tuple[float, float]]] = [[]]
    for x, y in at:
        if np.isnan(y):
            runs.append([])
        else:
            runs[-1].append((x, y))
    return [one * 2 if len(one) == 1 else one for one in runs if one]

