"""A picture of what objects on display will need: failures of each kind with their interval, and the spares."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kilter.services.plan_display import DisplayPlan
from kilter.wiring.figures import require_plotting, save_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MEAN, BAND, KEEP = "#0072B2", "#56B4E9", "#D55E00"


def draw_needs(plan: DisplayPlan, folder: Path) -> tuple[Path, ...]:
    """
    Draws them as SVG and PNG into a folder, made if new.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    require_plotting()
    return save_figure(needs_figure(plan), folder, "needs")


def needs_figure(plan: DisplayPlan) -> Figure:
    """One row a kind, most at the top."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(8.0, 1.4 + 0.4 * len(plan.needs)), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    rows = range(len(plan.needs), 0, -1)
    axes.hlines(rows, [one.low for one in plan.needs], [one.high for one in plan.needs], color=BAND, linewidth=7,
                label="likely between")  # fmt: skip
    axes.plot([one.mean for one in plan.needs], rows, "o", color=MEAN, label="expected")
    axes.plot([one.spares for one in plan.needs], rows, "|", color=KEEP, markersize=14, markeredgewidth=2,
              label="spares to keep")  # fmt: skip
    axes.set(yticks=list(rows), xlabel=f"failures in {plan.years:g} years", title=plan.showing.title)
    axes.set_yticklabels([f"{one.kind.words} ({one.places})" for one in plan.needs])
    axes.set_ylim(0.4, len(plan.needs) + 0.6)
    axes.set_xlim(left=-0.3)
    axes.legend(frameon=False, loc="lower right")
    return figure
