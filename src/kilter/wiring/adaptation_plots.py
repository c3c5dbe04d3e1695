"""Picture of a design's response over the tolerance of its parts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kilter.measure.errors import BadInput
from kilter.safety.adaptation.design import Design
from kilter.wiring.figures import require_plotting, save_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DEEPEST = 80.0
"""How far below its top a response is still shown. [dB]"""


def draw_response(design: Design, folder: Path) -> tuple[Path, ...]:
    """
    Draws it as SVG and PNG into a folder, made if new.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written, or the design has no response.
    """
    require_plotting()
    if not design.response:
        raise BadInput("Cannot draw the response", f"{design.title}, which is no circuit with a response",
                       "a driver, a pad or a filter", "Leave --plot away.")  # fmt: skip
    return save_figure(response_figure(design), folder, "response")


def response_figure(design: Design) -> Figure:
    """Gain over frequency: nominal, and the band of its tolerances."""
    from matplotlib.figure import Figure
    from matplotlib.ticker import EngFormatter

    figure = Figure(figsize=(8.0, 4.2), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    hertz, low, middle, high = np.array(design.response).T
    axes.fill_between(hertz, low, high, color="#0072B2", alpha=0.3, linewidth=0, label="within tolerance")
    axes.plot(hertz, middle, color="#0072B2", linewidth=1.4, label="nominal")
    axes.set(xscale="log", xlabel="frequency", ylabel="gain / dB", title=design.title, xlim=(hertz[0], hertz[-1]),
             ylim=(max(low.min(), middle.max() - DEEPEST) - 1, high.max() + 1))  # fmt: skip
    axes.xaxis.set_major_formatter(EngFormatter(unit="Hz"))
    axes.grid(visible=True, color="#DDDDDD", linewidth=0.6)
    axes.legend(frameon=False)
    return figure
