"""
Pictures of a diagnosis, as SVG and PNG: readings beside predictions, and the course of the visit.

The colours are two and more of those that Okabe and Ito chose to be told apart by most people with colour-blindness
(from memory); position and line style say the same once more.
"""

from __future__ import annotations

from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.services.compare import compare, leading
from kilter.services.course import course
from kilter.services.diagnose import Diagnoser, Diagnosis
from kilter.wiring.figures import require_plotting, save_figure


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
    return tuple(path for name, figure in figures.items() for path in save_figure(figure, folder, name))
