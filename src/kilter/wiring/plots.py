"""
Pictures of a diagnosis, as SVG and PNG: readings beside predictions, and the course of the visit.

The colours are two and more of those that Okabe and Ito chose to be told apart by most people with colour-blindness
(from memory); position and line style say the same once more.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kilter.measure.errors import BadInput, NotAvailable
from kilter.services.compare import compare, leading
from kilter.services.course import course
from kilter.services.diagnose import Diagnoser, Diagnosis

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DPI = 160


def draw(weigher: Diagnoser, diagnosis: Diagnosis, folder: Path) -> tuple[Path, ...]:
    """
    Draws both pictures into a folder, made if new.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: There is no reading to draw, or the folder cannot be written.
    """
    require_plotting()
    from kilter.wiring.plot_course import course_figure
    from kilter.wiring.plot_readings import readings_figure

    if not diagnosis.visit.readings:
        raise BadInput("Cannot draw the diagnosis", "no reading", "one reading or more", "Add readings first.")
    faults = ", ".join(f"{part} {mode}" for part, mode in sorted(leading(diagnosis)))
    title = diagnosis.visit.board.name
    figures = {
        "readings": readings_figure(compare(weigher, diagnosis), faults or "nothing wrong", title),
        "course": course_figure(course(weigher, diagnosis), title),
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return tuple(path for name, figure in figures.items() for path in _save(figure, folder, name))
    except OSError as error:
        raise BadInput("Cannot write the pictures", f"'{folder}': {error.strerror}", "a folder that can be written",
                       "Name another folder with --plot.") from None  # fmt: skip


def require_plotting() -> None:
    """
    Makes sure that pictures can be drawn, with no window and no typeface of this machine.

    Raises:
        NotAvailable: The plotting library is not installed.
    """
    try:
        import matplotlib as mpl
    except ImportError:
        raise NotAvailable(
            "Cannot draw pictures", "no plotting library (matplotlib)", "the text and --json without it",
            "Install the extra 'plots': pip install 'kilter[plots]'.",
        ) from None  # fmt: skip
    mpl.use("Agg")
    mpl.rcParams.update({
        "font.family": "DejaVu Sans", "font.size": 9, "svg.fonttype": "none", "svg.hashsalt": "kilter",
        "axes.spines.top": False, "axes.spines.right": False,
    })  # fmt: skip


def _save(figure: Figure, folder: Path, name: str) -> tuple[Path, Path]:
    svg, png = folder / f"{name}.svg", folder / f"{name}.png"
    figure.savefig(svg, metadata={"Date": None})
    figure.savefig(png, dpi=DPI)
    return svg, png
