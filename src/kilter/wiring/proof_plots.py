"""Picture of a proof: each item on a strip of its own, with its limits, guard bands beside them, and the reading."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from kilter.planning.proof.decide import ACCEPTED, CANNOT_TELL, REJECTED
from kilter.services.prove_repair import Proof, Proved, limit_words
from kilter.services.strips import Strip, strip_of
from kilter.services.wording import said

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INSIDE, OUTSIDE, INK, GREY = "#0072B2", "#D55E00", "#111111", "#555555"
COLOURS = {ACCEPTED: INSIDE, REJECTED: OUTSIDE, CANNOT_TELL: INK}
MARKERS = {ACCEPTED: "o", REJECTED: "X", CANNOT_TELL: "D"}
"""Shapes tell what colours tell, for print and for who does not see colours."""

TOP, LINE, KEY_STEP, LETTERS = 3.3, 0.30, 0.5, 17
"""Lines above the first item, height of a line in inches, lines of the key to a line, its letters to an inch."""
KEY = (
    "Strokes: limits. Filled: readings that are accepted. Hatched: guard bands, in which this instrument cannot tell. "
    "Bar: the value lies above its lower end with {certain}, and below its upper end with {certain}. Circle: accepted. "
    "Cross: rejected. Diamond: cannot tell. Arrow: farther off. Each strip has a scale of its own."
)


@dataclass(frozen=True)
class Layout:
    """
    Where columns stand, as shares of the width.

    Args:
        width: Of the picture. [inch]
        step: Lines from one item to the next.
        strip: First and last x of the strips.
        limits, read, verdict: x of the limits in words, none where they have no column, of what was read, and of the
            verdict.
        above: Lines by which words stand above their strip.
    """

    width: float
    step: float
    strip: tuple[float, float]
    limits: float | None
    read: float
    verdict: float
    above: float


WIDE = Layout(10.5, 1.0, (0.21, 0.53), 0.55, 0.73, 0.905, 0.0)
NARROW = Layout(4.6, 2.0, (0.02, 0.98), None, 0.41, 0.79, 0.8)


def draw_proof(found: Proof, folder: Path) -> tuple[Path, Path]:
    """
    Draws proof.svg and proof.png.

    Raises:
        NotAvailable: The plotting library is not installed.
        BadInput: The folder cannot be written.
    """
    from kilter.wiring.figures import require_plotting, save_figure

    require_plotting()
    return save_figure(proof_figure(found), folder, "proof")


def proof_figure(found: Proof, layout: Layout = WIDE) -> Figure:
    """The picture; what was read as a word, or not at all, keeps its row and says so."""
    from matplotlib.figure import Figure

    lines = layout.step * len(found.items)
    key = _key(found.risk, layout)
    end = lines + KEY_STEP * len(key) + 0.4
    figure = Figure(figsize=(layout.width, LINE * (end + TOP)), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0, 1), ylim=(end, -TOP))
    axes.axis("off")
    axes.text(0.015, -2.5, f"{found.board}: {found.verdict}", fontsize=11, fontweight="bold", va="center", color=INK)
    for x, words in ((0.015, "item"), (layout.limits, "accepted"), (layout.read, "read"), (layout.verdict, "verdict")):
        if x is not None:
            axes.text(x, -1.6, words, fontsize=8, color=GREY, va="center")
    for place, one in enumerate(found.items):
        _row(axes, place * layout.step, one, found.risk, layout)
    for place, words in enumerate(key):
        axes.text(0.015, lines + KEY_STEP * place, words, fontsize=6.5, color=GREY, va="center")
    return figure


def _row(axes: Axes, y: float, one: Proved, risk: float, layout: Layout) -> None:
    test, color = one.item.test, COLOURS.get(one.verdict, GREY)
    words = y - layout.above
    axes.text(0.015, words, f"{test.point} {test.quantity.replace('_', ' ')}, {test.state}", fontsize=8, color=INK,
              va="center")  # fmt: skip
    axes.text(layout.read, words, said(one.reading) if one.reading else "not read", fontsize=8, color=color,
              va="center")  # fmt: skip
    bold = "bold" if one.verdict == REJECTED else "normal"
    axes.text(layout.verdict, words, one.verdict, fontsize=8, color=color, va="center", fontweight=bold)
    strip = strip_of(one, risk)
    accepted = limit_words(one.item)
    if layout.limits is not None:
        axes.text(layout.limits, y, accepted, fontsize=8, color=INK, va="center")
    elif strip is None:
        axes.text(layout.strip[0], y, f"accepted: {accepted}", fontsize=7.5, color=GREY, va="center")
    if strip is None:
        return
    _draw(axes, y, strip, one.verdict, layout.strip)


def _draw(axes: Axes, y: float, strip: Strip, verdict: str, ends: tuple[float, float]) -> None:
    """Frame, accepted zone, guard bands, limits, and the reading with the bar that must not pass a limit."""
    first, last = ends

    def x(at: float) -> float:
        return first + (last - first) * min(1.0, max(0.0, at))

    axes.plot((first, last), (y, y), color="#BBBBBB", linewidth=0.6)
    if strip.accepted is not None:
        _band(axes, y, x(strip.accepted[0]), x(strip.accepted[1]), color=INSIDE, alpha=0.25, linewidth=0)
    for band in strip.guards:
        _band(axes, y, x(band[0]), x(band[1]), facecolor="white", edgecolor=GREY, hatch="/////", linewidth=0.4)
    for limit in strip.limits:
        axes.plot((x(limit), x(limit)), (y - 0.42, y + 0.42), color=INK, linewidth=1.6, solid_capstyle="butt")
    color = COLOURS.get(verdict, GREY)
    if strip.value is None:
        return
    axes.plot((x(strip.value - strip.bar), x(strip.value + strip.bar)), (y, y), color=color, linewidth=1.6)
    beyond = "<" if strip.value < 0 else ">" if strip.value > 1 else ""
    face = "white" if verdict == CANNOT_TELL else color
    axes.plot((x(strip.value),), (y,), beyond or MARKERS.get(verdict, "s"), color=color, markersize=6,
              markerfacecolor=face, clip_on=False)  # fmt: skip


def _band(axes: Axes, y: float, left: float, right: float, **look: Any) -> None:
    axes.fill([left, right, right, left], [y - 0.3, y - 0.3, y + 0.3, y + 0.3], **look)


def _key(risk: float, layout: Layout) -> list[str]:
    """What the signs mean, in lines that fit."""
    return wrap(KEY.format(certain=f"{100 * (1 - risk):g} %"), int(layout.width * LETTERS))
