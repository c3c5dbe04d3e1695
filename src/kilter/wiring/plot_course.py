"""Picture: how the probabilities moved as the readings came."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from kilter.services.course import Course
from kilter.services.wording import asked, said_shortly
from kilter.simulate.prediction import Floats

COLOURS = ("#D55E00", "#0072B2", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
STYLES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.2)), (0, (6, 2, 1.5, 2)), (0, (4, 1)), (0, (1, 1)))
GREY, INK = "#777777", "#111111"
WORTH = 0.05
"""Parts that never get above this are not drawn."""
GAP, CLOSE = 0.055, 2.5
"""Names closer than this are moved apart: as a share of the height, and in readings."""

Line = tuple[str, Floats, str, Any]
"""Name, probabilities, colour and line style."""


def course_figure(course: Course, title: str) -> Figure:
    """The picture: one line a part, labelled where it matters most; renewals are marked."""
    width = max(7.5, 0.42 * len(course.readings) + 2.0)
    figure = Figure(figsize=(width, 4.8), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    lines = _lines(course)
    for _, shares, colour, style in lines:
        width = 1.4 if colour in (GREY, INK) else 2.0
        axes.plot(range(len(shares)), shares, color=colour, linestyle=style, linewidth=width, clip_on=False)
    _axes(axes, course, title)
    _name_lines(axes, lines)
    for before, part in course.renewals:
        axes.axvline(before + 0.5, color=INK, linewidth=0.8, linestyle=(0, (1, 2)))
        axes.text(before + 0.5, 1.02, f"{part} renewed", ha="center", va="bottom", fontsize=8, color=INK)
    return figure


def _lines(course: Course) -> list[Line]:
    """The parts that ever mattered, then 'nothing wrong' and 'not in the model'."""
    parts = sorted(course.parts.items(), key=lambda item: -float(item[1].max()))
    drawn = [(name, shares) for name, shares in parts if shares.max() >= WORTH][: len(COLOURS)]
    lines = [
        (name, shares, *look) for (name, shares), look in zip(drawn, zip(COLOURS, STYLES, strict=True), strict=False)
    ]
    lines.append(("nothing wrong", course.healthy, GREY, "-"))
    lines.append(("not in the model", course.outside, INK, (0, (1, 1.5))))
    return lines


def _name_lines(axes: Axes, lines: Sequence[Line]) -> None:
    """Each name beside its line: at the right end where the line ends high, else above its peak; none on another."""
    taken: list[tuple[float, float]] = []
    for name, shares, colour, _ in sorted(lines, key=lambda line: -float(line[1].max())):
        ends_high = float(shares[-1]) >= WORTH
        x = len(shares) - 1 if ends_high else int(shares.argmax())
        y = float(shares[x])
        while any(abs(x - other) < CLOSE and abs(y - height) < GAP for other, height in taken):
            y += GAP
        taken.append((x, y))
        side = (
            {"ha": "left", "xytext": (6, 0)} if ends_high else {"ha": "left" if x == 0 else "center", "xytext": (2, 8)}
        )
        axes.annotate(name, (x, y), textcoords="offset points", color=colour, fontsize=9, va="center",
                      annotation_clip=False, **side)  # fmt: skip


def _axes(axes: Axes, course: Course, title: str) -> None:
    labels = ["at first", *(f"{asked(one)} {said_shortly(one)}" for one in course.readings)]
    axes.set_xticks(range(len(labels)), labels, rotation=55, ha="right", rotation_mode="anchor", fontsize=7.5)
    axes.set_yticks([0, 0.25, 0.5, 0.75, 1], ["0", "25 %", "50 %", "75 %", "100 %"])
    last = max([len(course.readings), *(before + 0.5 for before, _ in course.renewals)])
    axes.set(xlim=(0, last), ylim=(0, 1))
    axes.set_ylabel("probability, after each reading")
    axes.set_title(title, loc="left", fontweight="bold", pad=22 if course.renewals else 14)
    axes.grid(axis="y", color="#E5E5E5", linewidth=0.6)
    axes.set_axisbelow(True)
