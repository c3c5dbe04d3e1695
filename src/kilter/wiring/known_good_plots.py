"""Picture of a comparison: each reading on a strip of its own, with the healthy interval and the known-good boards."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kilter.measure.scales import to_scale
from kilter.services.compare_known_good import MARKED, Comparison, Row, interval_words
from kilter.services.wording import said

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEALTHY, MARK, INK = "#0072B2", "#D55E00", "#111111"
LEFT, RIGHT, EDGE = 0.26, 0.62, 0.05


def draw_comparison(found: Comparison, title: str, folder: Path) -> tuple[Path, Path]:
    """
    Draws known_good.svg and known_good.png.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    from kilter.wiring.figures import require_plotting, save_figure

    require_plotting()
    return save_figure(comparison_figure(found, title), folder, "known_good")


def comparison_figure(found: Comparison, title: str) -> Figure:
    """The picture: numbers only; words stand in the text."""
    from matplotlib.figure import Figure

    rows = [row for row in found.rows if row.reading is not None]
    figure = Figure(figsize=(10.5, 0.32 * (len(rows) + 4)), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0, 1), ylim=(len(rows) + 1.2, -2.8))
    axes.axis("off")
    axes.text(0.015, -2.0, title, fontsize=12, fontweight="bold", va="center", color=INK)
    for x, words in ((0.015, "reading"), (0.64, "this object"), (0.78, "healthy, 95 %")):
        axes.text(x, -0.9, words, fontsize=8.5, color="#555555", va="center")
    for y, row in enumerate(rows):
        _row(axes, y, row)
    note = ("Each strip has a scale of its own. Bar: where a healthy board reads 95 times in 100. Rings: known-good "
            "boards. Stroke: this object.")  # fmt: skip
    axes.text(0.015, len(rows) + 0.4, note, fontsize=7.5, color="#555555", va="center")
    return figure


def _row(axes: Axes, y: int, row: Row) -> None:
    point, key, state = row.key
    color = MARK if row.verdict in MARKED else INK
    axes.text(0.015, y, f"{point} {key}, {state}", fontsize=8.5, color=color, va="center")
    axes.text(0.64, y, said(row.reading) if row.reading else "", fontsize=8.5, color=color, va="center")
    axes.text(0.78, y, interval_words(row), fontsize=8, color=HEALTHY, va="center")
    if row.reading is None or row.reading.value is None or math.isnan(row.low):
        return
    low, high, value, *good = (
        float(one) for one in to_scale(key, np.array([row.low, row.high, row.reading.value, *row.good]))
    )
    first, last = min(low, value, *good), max(high, value, *good)
    span = max(last - first, 1e-12)

    def x(at: float) -> float:
        return LEFT + (RIGHT - LEFT) * (EDGE + (1 - 2 * EDGE) * (at - first) / span)

    axes.plot((x(low), x(high)), (y, y), color=HEALTHY, alpha=0.4, linewidth=8, solid_capstyle="butt")
    axes.plot([x(one) for one in good], [y] * len(good), "o", markersize=4, markerfacecolor="white", color=HEALTHY)
    axes.plot((x(value), x(value)), (y - 0.4, y + 0.4), color=color, linewidth=2)
