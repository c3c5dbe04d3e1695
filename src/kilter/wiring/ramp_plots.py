"""Picture of the ramp: current limit and rails over the setting of the supply."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kilter.safety.first_power.ramp import Ramp
from kilter.wiring.figures import require_plotting, save_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DRAWS, LIMIT, RAILS = "#0072B2", "#D55E00", ("#009E73", "#CC79A7", "#56B4E9", "#E69F00", "#111111")


def draw_ramp(ramp: Ramp, title: str, folder: Path) -> tuple[Path, ...]:
    """
    Draws it as SVG and PNG into a folder, made if new.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    require_plotting()
    return save_figure(ramp_figure(ramp, title), folder, "ramp")


def ramp_figure(ramp: Ramp, title: str) -> Figure:
    """Above the current with its limit, below the band of every rail."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 6.4), facecolor="white", layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(1, 1.2))
    shares = np.array([100 * one.share for one in ramp.steps])
    bands = np.array([one.current for one in ramp.steps])
    low, high = 1e3 * bands.T
    above.fill_between(shares, low, high, color=DRAWS, alpha=0.35, label="healthy boards draw")
    above.step(shares, [1e3 * one.limit for one in ramp.steps], color=LIMIT, where="pre", label="limit: switch off")
    above.set(ylabel="current / mA", title=title)
    above.legend(frameon=False, loc="upper left")
    for number, name in enumerate(ramp.steps[0].rails):
        _rail(below, shares, np.array([one.rails[name] for one in ramp.steps]), name, RAILS[number % len(RAILS)])
    below.set(xlabel="setting of the supply / %", ylabel="rail / V")
    return figure


def _rail(axes: Axes, shares: np.ndarray, bands: np.ndarray, name: str, colour: str) -> None:
    axes.fill_between(shares, bands[:, 0], bands[:, 1], color=colour, alpha=0.35, linewidth=0)
    axes.plot(shares, bands.mean(axis=1), ".-", color=colour, linewidth=1)
    axes.annotate(name, (shares[-1], bands[-1].mean()), xytext=(5, 0), textcoords="offset points", va="center",
                  color=colour)  # fmt: skip
