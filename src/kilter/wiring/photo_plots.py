"""Picture of a photograph with the outlines of parts and the marks on them; nothing of the file but its pixels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from kilter.importers.photograph import Photograph, pixels
from kilter.services.mark_photograph import Marked
from kilter.thermal.outlines import Outline
from kilter.wiring.figures import require_plotting, save_figure

WIDTH = 10.0
"""Of the picture. [inch]"""


def draw_photograph(
    photo: Photograph, outlines: Mapping[str, Outline], marked: Sequence[Marked], folder: Path
) -> tuple[Path, Path]:
    """
    Draws photo.svg and photo.png.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    require_plotting()
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, WIDTH * photo.height / photo.width), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.imshow(pixels(photo))
    axes.axis("off")
    signs = {one.part: one.sign for one in marked}
    for ref, outline in outlines.items():
        x, y = zip(*outline.corners, outline.corners[0], strict=True)
        seen = ref in signs
        axes.plot(x, y, color="#000000", linewidth=3.5 if seen else 2.0)
        axes.plot(x, y, color="#D55E00" if seen else "#FFFFFF", linewidth=2.0 if seen else 0.8)
        words = f"{ref} {signs[ref]}" if seen else ref
        box = {"facecolor": "#D55E00" if seen else "#000000", "alpha": 0.7, "pad": 1, "linewidth": 0}
        axes.text(min(x), min(y), words, fontsize=8, color="#FFFFFF", va="bottom", clip_on=True, bbox=box)
    for one in marked:
        axes.plot(*one.place, "x", color="#D55E00", markersize=9, markeredgewidth=2)
    axes.set(xlim=(-0.5, photo.width - 0.5), ylim=(photo.height - 0.5, -0.5))
    return save_figure(figure, folder, "photo")
