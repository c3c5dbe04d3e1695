"""Pictures of a soak: each channel with its limits, and the cumulative sums below it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from kilter.planning.soak.channel import CHANGED, Judged
from kilter.services.judge_soak import SoakVerdict, log_of
from kilter.signals.meter_log import MeterLog
from kilter.wiring.figures import require_plotting, save_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

VALUES, LIMIT, UP, DOWN, INK = "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#111111"


def draw_soak(found: SoakVerdict, logs: Sequence[Sequence[MeterLog]], folder: Path) -> tuple[Path, ...]:
    """
    Draws each session as SVG and PNG into a folder, made if new.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    require_plotting()
    drawn: tuple[Path, ...] = ()
    for number, (session, columns) in enumerate(zip(found.sessions, logs, strict=True), 1):
        if session.channels:
            name = "soak" if len(logs) == 1 else f"soak-{number}"
            drawn += save_figure(soak_figure(session.channels, columns, session.source), folder, name)
    return drawn


def soak_figure(channels: Sequence[Judged], columns: Sequence[MeterLog], title: str) -> Figure:
    """Values with limits, and under each the sums with their threshold."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 2.6 * len(channels) + 0.6), facecolor="white", layout="constrained")
    rows = figure.subplots(2 * len(channels), 1, sharex=True, squeeze=False, height_ratios=[2, 1] * len(channels))
    figure.suptitle(title)
    for at, row in enumerate(channels):
        alone = [one.channel.quantity for one in channels].count(row.channel.quantity) == 1
        _values(rows[2 * at, 0], row, log_of(row.channel, columns, alone=alone))
        _sums(rows[2 * at + 1, 0], row)
    rows[-1, 0].set(xlabel="time from switching on / h")
    return figure


def _values(axes: Axes, row: Judged, log: MeterLog | None) -> None:
    if log is not None:
        axes.plot(log.seconds / 3600, log.values, ".", color=VALUES, markersize=2)
    for limit in (row.channel.low, row.channel.high):
        if math.isfinite(limit):
            axes.axhline(limit, color=LIMIT, linewidth=1, linestyle="--")
    if row.change is not None and row.verdict == CHANGED:
        axes.axvline(row.change.began, color=INK, linewidth=0.8)
        axes.annotate("change", (row.change.began, 1.0), xycoords=("data", "axes fraction"), xytext=(3, -9),
                      textcoords="offset points")  # fmt: skip
    axes.set(ylabel=f"{row.channel.name} / {row.channel.unit or '1'}", title=row.words)
    axes.title.set_fontsize(8)


def _sums(axes: Axes, row: Judged) -> None:
    axes.set(ylabel="sums / σ")
    if row.blocks is None or row.sums is None:
        axes.annotate("no sums: too few values, or they hang together", (0.02, 0.5), xycoords="axes fraction")
        return
    axes.plot(row.blocks.hours, row.sums.above, color=UP, linewidth=1, label="upwards")
    axes.plot(row.blocks.hours, row.sums.below, color=DOWN, linewidth=1, linestyle="-.", label="downwards")
    axes.axhline(row.threshold, color=LIMIT, linewidth=1, linestyle="--", label="threshold")
    axes.legend(frameon=False, loc="upper left", ncols=3, fontsize=7)
