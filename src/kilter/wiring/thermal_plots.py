"""Picture of a thermal comparison: known-good, object and difference side by side, with the outlines of the parts."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kilter.services.compare_thermal import ALIKE, UNREAD, ThermalComparison
from kilter.thermal.image import TemperatureImage
from kilter.thermal.outlines import Outline
from kilter.wiring.figures import require_plotting, save_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MARK, PLAIN = "#00E5FF", "#FFFFFF"


def draw_thermal(
    found: ThermalComparison,
    picture: TemperatureImage,
    good: TemperatureImage,
    outlines: Mapping[str, Outline],
    title: str,
    folder: Path,
) -> tuple[Path, Path]:
    """
    Draws thermal.svg and thermal.png.

    Args:
        found: The comparison.
        picture: Of the object.
        good: The first known-good picture.
        outlines: On the first known-good picture. [pixels]
        title: Of the board.
        folder: Made if new.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    require_plotting()
    return save_figure(_figure(found, picture, good, outlines, title), folder, "thermal")


def _figure(
    found: ThermalComparison,
    picture: TemperatureImage,
    good: TemperatureImage,
    outlines: Mapping[str, Outline],
    title: str,
) -> Figure:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(13, 4.4), facecolor="white", layout="constrained")
    figure.suptitle(title, fontsize=12, fontweight="bold", x=0.01, ha="left")
    left, middle, right = figure.subplots(1, 3)
    low, high = np.quantile(np.concatenate([picture.celsius.ravel(), good.celsius.ravel()]), [0.002, 0.999])
    marked = {one.ref: one.verdict not in (ALIKE, UNREAD) for one in found.parts}
    for axes, image, words in ((left, good, "known-good"), (middle, picture, "this object")):
        shown = axes.imshow(image.celsius, cmap="inferno", vmin=low, vmax=high)
        axes.set_title(f"{words}, °C")
        figure.colorbar(shown, ax=axes, shrink=0.8)
    most = max(float(np.nanquantile(np.abs(found.difference), 0.999)), 1.0)
    shown = right.imshow(found.difference, cmap="RdBu_r", vmin=-most, vmax=most)
    right.set_title("rise less known-good, K (grey: not seen)")
    right.set_facecolor("#BBBBBB")
    figure.colorbar(shown, ax=right, shrink=0.8)
    for ref, outline in outlines.items():
        _outline(left, outline, marked=marked[ref], dark=True)
        _outline(middle, outline.moved(found.registration.matrix), marked=marked[ref], dark=True)
        _outline(right, outline, marked=marked[ref], dark=False)
    for axes, (rows, columns) in (
        (left, good.celsius.shape),
        (middle, picture.celsius.shape),
        (right, good.celsius.shape),
    ):
        axes.set(xlim=(-0.5, columns - 0.5), ylim=(rows - 0.5, -0.5))
    return figure


def _outline(axes: Axes, outline: Outline, *, marked: bool, dark: bool) -> None:
    """Marked parts have a thick line and their name in bold, so that colour is not all that tells."""
    color = (MARK if marked else PLAIN) if dark else "#000000"
    x, y = zip(*outline.corners, outline.corners[0], strict=True)
    axes.plot(x, y, color=color, linewidth=2.0 if marked else 0.7)
    axes.text(min(x), min(y) - 2, outline.ref, color=color, fontsize=8 if marked else 6,
              fontweight="bold" if marked else "normal", clip_on=True)  # fmt: skip
