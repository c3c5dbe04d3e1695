"""How hours or switch-ons grew over time, as pieces to draw: what was counted, and what was taken for it in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from kilter.planning.display.showing import DisplayObject
from kilter.planning.display.stretches import Stretch
from kilter.planning.display.usage import Rate


@dataclass(frozen=True)
class Piece:
    """From one day and total to another; `counted` is False where nobody counted and the rate was taken. [ticks]"""

    first: date
    end: date
    low: float
    high: float
    counted: bool


def course_of(thing: DisplayObject, rate: Rate, stretches: Sequence[Stretch], today: date) -> tuple[Piece, ...]:
    """
    The pieces, from the first day on display until today.

    Args:
        thing: The object, with its rests.
        rate: Its rate.
        stretches: What was counted, in order of days and without overlap.
        today: The day.
    """
    found: list[Piece] = []
    at, total = thing.since, 0.0
    for one in stretches:
        if one.first > at:
            found.append(_taken(thing, rate, at, one.first, total))
            total = found[-1].high
        found.append(Piece(max(one.first, at), max(one.end, at), total, total + one.ticks, counted=True))
        total, at = found[-1].high, max(at, one.end)
    if at < today:
        found.append(_taken(thing, rate, at, today, total))
    return tuple(found)


def _taken(thing: DisplayObject, rate: Rate, first: date, end: date, total: float) -> Piece:
    return Piece(first, end, total, total + rate.a_year * thing.shown_years(first, end), counted=False)
