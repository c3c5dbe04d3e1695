"""Save a drawn figure as SVG and PNG."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kilter.measure.errors import BadInput
from kilter.wiring.plots import DPI

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def save_figure(figure: Figure, folder: Path, name: str) -> tuple[Path, Path]:
    """
    Saves name.svg and name.png into a folder, made if new; the SVG carries no date.

    Raises:
        BadInput: The folder cannot be written.
    """
    svg, png = folder / f"{name}.svg", folder / f"{name}.png"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        figure.savefig(svg, metadata={"Date": None})
        figure.savefig(png, dpi=DPI)
    except OSError as error:
        raise BadInput("Cannot write the pictures", f"'{folder}': {error.strerror}", "a folder that can be written",
                       "Name another folder with --plot.") from None  # fmt: skip
    return svg, png
