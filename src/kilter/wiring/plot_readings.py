"""Picture: every reading on a strip of its own, between what a healthy board and the leading explanation predict."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Rectangle

from kilter.diagnose.outlook import BAND, band_words, likely_words
from kilter.services.compare import Compared, Side
from kilter.services.wording import asked, said

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

HEALTHY, LEADING, INK, FAINT = "#0072B2", "#D55E00", "#111111", "#DDDDDD"
ROW = 0.34
"""Height of a row. [inch]"""
PAD = 0.08
LEAST = 0.012
"""Narrowest band drawn, as a share of the strip; a sharper one would vanish."""
STRIP = (0.17, 0.51)
"""Left and right end of the strips, as shares of the width."""
COLUMNS = {"read": 0.53, "healthy": 0.72, "leading": 0.86}


def readings_figure(rows: Sequence[Compared], faults: str, title: str) -> Figure:
    """
    The picture.

    Args:
        rows: In the order in which they were taken.
        faults: The leading explanation in words.
        title: Of the board.
    """
    height = ROW * (len(rows) + 3.6)
    figure = Figure(figsize=(10.5, height), facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0, 1), ylim=(len(rows) + 0.9, -2.7))
    axes.axis("off")
    _heads(axes, faults, title)
    state = ""
    for place, row in enumerate(rows):
        if row.reading.state != state:
            state = row.reading.state
            axes.axhline(place - 0.5, 0.015, 0.985, color=INK, linewidth=0.7)
        _row(axes, place, row)
    axes.axhline(len(rows) - 0.5, 0.015, 0.985, color=INK, linewidth=0.7)
    words = "Each strip has a scale of its own. Bands: two standard deviations of tolerance. Whisker: two of the meter."
    axes.text(0.015, len(rows) + 0.2, words, color="#555555", fontsize=7.5, va="center")
    return figure


def _heads(axes: Axes, faults: str, title: str) -> None:
    axes.text(0.015, -2.2, title, fontsize=12, fontweight="bold", va="center", color=INK)
    axes.legend(
        handles=[
            Patch(color=HEALTHY, alpha=0.55, label="healthy (upper half)"),
            Patch(color=LEADING, alpha=0.65, label=f"with {faults} (lower half)"),
        ],
        loc="center right", bbox_to_anchor=(0.985, 0.0, 0.0, 0.0), bbox_transform=axes.transData, ncols=2,
        frameon=False, fontsize=8.5, handlelength=1.4, borderpad=0,
    ).set_bbox_to_anchor((0.985, -2.2), transform=axes.transData)  # fmt: skip
    _write(axes, 0.015, -1.0, "reading")
    for key, words in (("read", "read"), ("healthy", "healthy"), ("leading", "with the fault")):
        _write(axes, COLUMNS[key], -1.0, words)


def _write(axes: Axes, x: float, y: float, words: str, color: str = "#555555", size: float = 8.5) -> Text:
    return axes.text(x, y, words, fontsize=size, color=color, va="center")


def _row(axes: Axes, y: int, row: Compared) -> None:
    reading = row.reading
    _write(axes, 0.015, y, asked(reading), INK, 9)
    _write(axes, COLUMNS["read"], y, said(reading), INK, 8.5)
    _write(axes, COLUMNS["healthy"], y, _side_words(row, row.healthy), HEALTHY, 8)
    _write(axes, COLUMNS["leading"], y, _side_words(row, row.leading), "#A84800", 8)
    axes.plot(STRIP, (y, y), color=FAINT, linewidth=0.8, zorder=0)
    if reading.value is None:
        _words(axes, y, row)
    else:
        _numbers(axes, y, row)


def _side_words(row: Compared, side: Side) -> str:
    if not side.known:
        return "anything"
    if side.words:
        return likely_words(tuple(side.words), np.array(list(side.words.values())))
    return band_words(row.reading.quantity, side.mean, side.spread).replace(" to ", " – ")


def _numbers(axes: Axes, y: int, row: Compared) -> None:
    """Both bands and the reading on a scale that just holds them."""
    sides = [(row.healthy, -0.36, HEALTHY, 0.55), (row.leading, 0.02, LEADING, 0.65)]
    ends = [row.evidence.value - BAND * row.evidence.sd, row.evidence.value + BAND * row.evidence.sd]
    for side, _, _, _ in sides:
        if side.known:
            ends += [side.mean - BAND * side.spread, side.mean + BAND * side.spread]
    low, high = min(ends), max(ends)
    span = max(high - low, 1e-9 * max(abs(high), 1.0))

    def x(value: float) -> float:
        return STRIP[0] + (STRIP[1] - STRIP[0]) * (PAD + (1 - 2 * PAD) * (value - low) / span)

    for side, top, color, alpha in sides:
        if side.known:
            left, right = x(side.mean - BAND * side.spread), x(side.mean + BAND * side.spread)
            short = max(0.0, LEAST * (STRIP[1] - STRIP[0]) - (right - left)) / 2
            axes.add_patch(
                Rectangle(
                    (left - short, y + top), right - left + 2 * short, 0.34, color=color, alpha=alpha, linewidth=0
                )
            )
    at = x(row.evidence.value)
    axes.plot((x(ends[0]), x(ends[1])), (y, y), color=INK, linewidth=1.2, solid_capstyle="butt")
    axes.plot((at, at), (y - 0.42, y + 0.42), color=INK, linewidth=1.6, solid_capstyle="butt")


def _words(axes: Axes, y: int, row: Compared) -> None:
    """The words along the strip: a bar up for healthy, a bar down for the fault, a tick where the reading fell."""
    names = list(row.healthy.words)
    step = (STRIP[1] - STRIP[0]) / max(len(names), 1)
    for place, name in enumerate(names):
        left = STRIP[0] + place * step
        for side, sign, color, alpha in ((row.healthy, -1, HEALTHY, 0.55), (row.leading, 1, LEADING, 0.65)):
            tall = 0.36 * side.words.get(name, 0.0) if side.known else 0.0
            corner = (left + 0.1 * step, y - tall if sign < 0 else y)
            axes.add_patch(Rectangle(corner, 0.8 * step, tall, color=color, alpha=alpha, linewidth=0))
        chosen = name == row.reading.word
        weight = "bold" if chosen else "normal"
        axes.text(left + step / 2, y, name, fontsize=6.5, ha="center", va="center", fontweight=weight, color=INK)
        if chosen:
            box = Rectangle((left + 0.04 * step, y - 0.42), 0.92 * step, 0.84, fill=False, edgecolor=INK, linewidth=1.2)
            axes.add_patch(box)
