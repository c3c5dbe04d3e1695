"""Stretches of a line: from change to change, cut to the capture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.signals.logic_lines import HIGH, LOW, UNKNOWN, Levels, LogicCapture, LogicLine, Ticks


@dataclass(frozen=True)
class Stretches:
    """
    A line as stretches of one level each.

    Args:
        starts: [ticks], shape (n,)
        ends: [ticks], shape (n,)
        levels: shape (n,)
    """

    starts: Ticks
    ends: Ticks
    levels: Levels

    @property
    def widths(self) -> Ticks:
        """[ticks]"""
        widths: Ticks = self.ends - self.starts
        return widths

    def time_at(self, level: int) -> int:
        """Total time at a level. [ticks]"""
        return int(self.widths[self.levels == level].sum())

    def edges(self, level: int) -> NDArray[np.intp]:
        """Places where the line goes to a level from the opposite one."""
        other = LOW if level == HIGH else HIGH
        return np.flatnonzero((self.levels[1:] == level) & (self.levels[:-1] == other)) + 1

    def whole(self, level: int) -> Ticks:
        """Widths of those at a level that begin and end with an edge within the capture. [ticks]"""
        sure = self.levels < UNKNOWN
        inside = np.zeros(len(sure), np.bool_)
        inside[1:-1] = sure[:-2] & sure[2:]
        widths: Ticks = self.widths[inside & (self.levels == level)]
        return widths


def stretches(line: LogicLine, capture: LogicCapture) -> Stretches:
    """The stretches of a line; while the capture is off, and before the first value, its level is unknown."""
    times, levels = line.times, line.levels
    if not len(times) or times[0] > capture.start:
        times = np.concatenate([[capture.start], times])
        levels = np.concatenate([np.array([UNKNOWN], np.uint8), levels])
    for off, on in capture.gaps:
        times, levels = _blanked(times, levels, off, on)
    ends = np.concatenate([times[1:], [max(capture.end, int(times[-1]))]])
    kept = ends > times
    return Stretches(times[kept], ends[kept], levels[kept])


def _blanked(times: Ticks, levels: Levels, off: int, on: int) -> tuple[Ticks, Levels]:
    """The same with an unknown stretch from off to on; afterwards the level is what was said last."""
    first, last = int(np.searchsorted(times, off, "left")), int(np.searchsorted(times, on, "right"))
    after = levels[max(last - 1, 0)]
    times = np.concatenate([times[:first], [off, on], times[last:]])
    levels = np.concatenate([levels[:first], np.array([UNKNOWN, after], np.uint8), levels[last:]])
    return times, levels
