"""Picture: how the probabilities moved as the readings came."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from kilter.services.course import Course
from kilter.services.wording import asked, percent, said_shortly
from kilter.simulate.prediction import Floats

COLOURS = ("#D55E00", "#0072B2", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
STYLES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.2)), (0, (6, 2, 1.5, 2)), (0, (4, 1)), (0, (1, 1)))
GREY, INK = "#777777", "#111111"
WORTH = 0.05
"""Parts that never get above this are not drawn."""
Line = tuple[str, Floats, str, Any]
"""Name, probabilities, colour and line style."""


def course_figure(course: Course, title: str) -> Figure:
    """The picture: one line a part, named at the right; renewals are marked."""
    width = max(8.0, 0.42 * len(course.readings) + 2.0)
    figure = Figure(figsize=(width, 4.8), facecolor="white", layout="constrained")
    axes = figure.add_subplot()
    lines = _lines(course)
    for name, shares, colour, style in lines:
        thick = 1.4 if colour in (GREY, INK) else 2.0
        steps = range(len(shares))
        axes.plot(steps, shares, color=colour, linestyle=style, linewidth=thick, clip_on=False, label=name)
    _axes(axes, course, title)
    _name_lines(axes)
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


def _name_lines(axes: Axes) -> None:
    """Names at the right, the likeliest in the end on top."""
    handles, names = axes.get_legend_handles_labels()
    ends = [float(np.asarray(handle.get_ydata())[-1]) for handle in handles if isinstance(handle, Line2D)]
    order = sorted(range(len(ends)), key=lambda place: -ends[place])
    axes.legend(
        [handles[place] for place in order], [f"{names[place]}  {percent(ends[place])}" for place in order],
        loc="upper left", bbox_to_anchor=(1.01, 1.03), frameon=False, handlelength=3.2, title="in the end",
        alignment="left",
    )  # fmt: skip


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
