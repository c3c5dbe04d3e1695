"""Picture of the ripple: the reservoir over one period at the ends of the mains, beside what the regulator needs."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from kilter.safety.supply.rectifier import RectifierSupply, one_period
from kilter.wiring.figures import require_plotting, save_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

COLOURS, NEEDED = ("#0072B2", "#009E73", "#CC79A7"), "#D55E00"
ENDS = ("lowest mains, old reservoir", "nominal", "highest mains")


def draw_ripple(supplies: Sequence[RectifierSupply], needed: float | None, folder: Path) -> tuple[Path, ...]:
    """
    Draws ripple.svg and ripple.png into a folder, made if new.

    Args:
        supplies: At the lowest, the nominal and the highest mains.
        needed: Voltage below which the regulator drops out, None where that is not known. [V]
        folder: Where to.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    require_plotting()
    return save_figure(ripple_figure(supplies, needed), folder, "ripple")


def ripple_figure(supplies: Sequence[RectifierSupply], needed: float | None) -> Figure:
    """Above the voltage, below the current of the winding."""
    from matplotlib.figure import Figure
    from matplotlib.ticker import EngFormatter

    figure = Figure(figsize=(8.0, 5.6), facecolor="white", layout="constrained")
    above, below = figure.subplots(2, 1, sharex=True, height_ratios=(1.4, 1))
    for supply, colour, words in zip(supplies, COLOURS, ENDS, strict=True):
        times, volts, amps = one_period(supply)
        above.plot(times, volts, color=colour, label=words)
        below.plot(times, amps, color=colour)
    if needed is not None:
        above.axhline(needed, color=NEEDED, linestyle="--", label="the regulator needs this")
    above.set(ylabel="reservoir / V")
    above.legend(frameon=False, fontsize=8)
    below.set(ylabel="winding / A", xlabel="time")
    below.xaxis.set_major_formatter(EngFormatter(unit="s"))
    return figure
