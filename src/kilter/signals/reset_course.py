"""The course of a reset or another control line: when it is asserted, how long, and how often."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from kilter.measure.measured import Measured
from kilter.signals.line_stretches import stretches
from kilter.signals.logic_lines import HIGH, LOW, LogicCapture, LogicLine

COURSES = ("never asserted", "asserted throughout", "released once", "asserted later", "asserted again", "not told")


@dataclass(frozen=True)
class ResetCourse:
    """
    What a reset line does.

    Args:
        course: One of COURSES. 'asserted again' is what a watchdog or a failing supply does.
        length: Of the first assertion. [s]; where it was under way when the capture began it is at least so long
        at_least: Whether the assertion began before the capture or outlasted it.
        times: How often it is asserted.
        released: When it was first released. [s from the start], None where it was not
    """

    course: str
    length: Measured | None
    at_least: bool
    times: int
    released: float | None


def reset_course(line: LogicLine, capture: LogicCapture, *, asserted: int = LOW) -> ResetCourse:
    """
    Follows a reset line.

    Args:
        line: The line.
        capture: That it belongs to.
        asserted: The level that resets.
    """
    pieces = stretches(line, capture)
    if not ((pieces.levels == LOW) | (pieces.levels == HIGH)).any():
        return ResetCourse("not told", None, at_least=True, times=0, released=None)
    at = [i for i, level in enumerate(pieces.levels.tolist()) if level == asserted]
    if not at:
        return ResetCourse("never asserted", None, at_least=False, times=0, released=None)
    first = at[0]
    released = first + 1 < len(pieces.levels) and int(pieces.levels[first + 1]) in (LOW, HIGH)
    begun = first > 0 and int(pieces.levels[first - 1]) in (LOW, HIGH)
    length = float(pieces.widths[first]) * capture.tick
    measured = Measured(length, "s", capture.step_s / sqrt(6.0))
    when = float(pieces.ends[first] - capture.start) * capture.tick if released else None
    course = _course(len(at), released=released, begun=begun)
    return ResetCourse(course, measured, at_least=not (begun and released), times=len(at), released=when)


def _course(times: int, *, released: bool, begun: bool) -> str:
    if times > 1:
        return "asserted again"
    if not released:
        return "asserted later" if begun else "asserted throughout"
    return "asserted later" if begun else "released once"
