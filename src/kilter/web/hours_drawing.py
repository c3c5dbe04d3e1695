"""Hours and switch-ons over time as lines of a drawing; a template shows them as plain SVG."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from kilter.planning.display.course import Piece

WIDTH, HEIGHT = 360.0, 170.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 10.0, 12.0, 26.0
STEPS = (1.0, 2.0, 5.0, 10.0)
LINES = 4


@dataclass(frozen=True)
class Line:
    """A piece in the drawing's own units; `counted` as in `kilter.planning.display.course.Piece`."""

    x1: float
    y1: float
    x2: float
    y2: float
    counted: bool


@dataclass(frozen=True)
class Mark:
    """A place on an axis with its words."""

    at: float
    words: str


@dataclass(frozen=True)
class Drawing:
    """The lines, and marks on both axes."""

    lines: tuple[Line, ...]
    totals: tuple[Mark, ...]
    days: tuple[Mark, ...]
    width: float = WIDTH
    height: float = HEIGHT
    left: float = LEFT
    right: float = WIDTH - RIGHT
    top: float = TOP
    bottom: float = HEIGHT - BOTTOM


def drawing_of(pieces: Sequence[Piece]) -> Drawing | None:
    """
    The drawing; None where there is no time to draw, or nothing that ran.

    Args:
        pieces: In order of days.
    """
    if not pieces or pieces[0].first >= pieces[-1].end or pieces[-1].high <= 0:
        return None
    first, end, most = pieces[0].first, pieces[-1].end, pieces[-1].high
    step = step_for(most)
    top = step * math.ceil(most / step)
    days = (end - first).days

    def x(day: date) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * (day - first).days / days

    def y(total: float) -> float:
        return HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * total / top

    lines = tuple(Line(x(one.first), y(one.low), x(one.end), y(one.high), one.counted) for one in pieces)
    totals = tuple(Mark(y(step * at), f"{step * at:g}") for at in range(round(top / step) + 1))
    return Drawing(lines, totals, (Mark(LEFT, first.isoformat()), Mark(WIDTH - RIGHT, end.isoformat())))


def step_for(most: float) -> float:
    """
    Between two lines of an axis, so that there are few: 1, 2 or 5 times a power of ten.

    >>> step_for(2430.0), step_for(7.0), step_for(0.3)
    (1000.0, 2.0, 0.1)
    """
    rough = most / LINES
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * one for one in STEPS if power * one >= rough - 1e-12 * power)
