"""Picture of a logic capture: one lane for every line, over one time axis."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from kilter.services.read_logic_capture import CaptureView
from kilter.signals.line_activity import LineActivity
from kilter.signals.logic_lines import UNKNOWN, LogicCapture, LogicLine
from kilter.wiring.figures import require_plotting, save_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TRACE, DOUBT, OFF, INK = "#0072B2", "#D55E00", "#DDDDDD", "#111111"
COLUMNS = 1200
"""Slices of time looked at apart; where a line changes more than once within a slice, a block stands for it."""
MOST_LANES = 40
TALL = 0.72
"""Share of a lane between low and high."""

Floats = NDArray[np.float64]


def draw_lines(view: CaptureView, folder: Path) -> tuple[Path, ...]:
    """
    Draws the lines as SVG and PNG into a folder, made if new.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    require_plotting()
    return save_figure(lines_figure(view), folder, "lines")


def lines_figure(view: CaptureView) -> Figure:
    """Lane over lane in the order of the file; the first 40, and the title says how many there are."""
    from matplotlib.figure import Figure
    from matplotlib.ticker import EngFormatter

    capture = view.capture
    lines = list(capture.every_line().values())[:MOST_LANES]
    figure = Figure(figsize=(10.5, 1.2 + 0.42 * max(len(lines), 1)), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    for gap in capture.gaps:
        axes.axvspan(*((moment - capture.start) * capture.tick for moment in gap), color=OFF, zorder=0)
    for lane, line in enumerate(lines):
        _lane(axes, line, capture, -float(lane))
        axes.annotate(_told(view.lines[line.name]), (1.0, -lane + TALL / 2), xycoords=("axes fraction", "data"),
                      xytext=(5, 0), textcoords="offset points", va="center", fontsize=7, color=INK)  # fmt: skip
    axes.set_yticks([-lane + TALL / 2 for lane in range(len(lines))], [line.name for line in lines])
    axes.set(xlim=(0, capture.length), ylim=(0.7 - max(len(lines), 1), 1.0), xlabel="time since the capture began")
    axes.xaxis.set_major_formatter(EngFormatter(unit="s"))
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    cut = f": {len(lines)} of {len(view.lines)} lines" if len(view.lines) > len(lines) else ""
    axes.set_title(capture.source + cut, fontsize=9)
    return figure


def _told(activity: LineActivity) -> str:
    if activity.frequency is not None:
        return f"{activity.frequency}"
    if activity.word != "pulsing":
        return activity.word
    return "1 change" if activity.changes == 1 else f"{activity.changes} changes"


def _lane(axes: Axes, line: LogicLine, capture: LogicCapture, base: float) -> None:
    """Low and high as a stepped trace, blocks where it is too busy to show, what is not known as a middle band."""
    if not len(line.times):
        return
    edges = np.linspace(capture.start, capture.end, COLUMNS + 1)
    changes = np.histogram(line.times, edges)[0]
    for first, last in _runs(changes > 1):
        axes.fill_between(_seconds(edges[[first, last]], capture), base, base + TALL, color=TRACE, alpha=0.45, lw=0)
    kept = changes[np.clip(np.searchsorted(edges, line.times, side="right") - 1, 0, COLUMNS - 1)] <= 1
    kept |= np.append(kept[1:], True)  # the change before a shown one tells its level
    times = np.append(line.times[kept], capture.end)
    levels = line.levels[kept]
    shown = np.where(levels < UNKNOWN, base + TALL * np.minimum(levels, 1), np.nan)
    axes.plot(_seconds(times, capture), np.append(shown, shown[-1]), drawstyle="steps-post", color=TRACE, linewidth=1.0)
    for at in np.flatnonzero(levels >= UNKNOWN):
        axes.fill_between(_seconds(times[at : at + 2], capture), base + 0.3 * TALL, base + 0.7 * TALL, facecolor="none",
                          edgecolor=DOUBT, hatch="////", linewidth=0)  # fmt: skip


def _seconds(ticks: NDArray[np.generic], capture: LogicCapture) -> Floats:
    return (ticks.astype(np.float64) - capture.start) * capture.tick


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and past-last place of every stretch of true.

    >>> _runs(np.array([False, True, True, False, True]))
    [(1, 3), (4, 5)]
    """
    padded = np.concatenate(([False], flags, [False])).astype(np.int8)
    steps = np.diff(padded)
    return list(zip(np.flatnonzero(steps == 1).tolist(), np.flatnonzero(steps == -1).tolist(), strict=True))
