"""Make figures possible, and save a drawn one as SVG and PNG."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kilter.measure.errors import BadInput, NotAvailable

if TYPE_CHECKING:
    from matplotlib.figure import Figure


DPI = 160


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
