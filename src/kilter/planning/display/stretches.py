"""
Hours and switch-ons from stretches of time over which somebody counted: meters read now and then, days told one by one.

Between the stretches nobody counted. There the object is taken to run as fast as it did within them, and only on days
on which it was on display.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from kilter.measure.errors import BadInput
from kilter.planning.display.usage import COUNTED, DAYS, LEAST_DAYS, Rate, supposed

Days = tuple[date, date]
"""From a day until another, which is no longer counted in."""


@dataclass(frozen=True)
class Stretch:
    """What was counted from a day until another, which is no longer counted in. [ticks]"""

    first: date
    end: date
    ticks: float


@dataclass(frozen=True)
class Meter:
    """What a meter showed on a day; `anew` where it was set back or changed, and counts from here."""

    day: date
    shows: float
    anew: bool = False


def stretches_of_meter(readings: Sequence[Meter]) -> tuple[Stretch, ...]:
    """
    What a meter counted between its readings.

    Args:
        readings: In order of days.

    Raises:
        BadInput: It went backwards, and nobody wrote that it counts anew.

    >>> read = [Meter(date(2025, 1, 1), 40), Meter(date(2025, 2, 1), 90), Meter(date(2025, 2, 2), 0, anew=True)]
    >>> [one.ticks for one in stretches_of_meter(read)]
    [50]
    """
    found = []
    for one, after in pairwise(readings):
        if after.anew:
            continue
        if after.day < one.day or after.shows < one.shows:
            raise BadInput("Cannot tell how much an object ran", f"{after.shows:g} on {after.day} after {one.shows:g} "
                           f"on {one.day}", "a meter that never goes backwards",
                           "Correct the reading, or say that the meter counts anew.")  # fmt: skip
        found.append(Stretch(one.day, after.day, after.shows - one.shows))
    return tuple(found)


def rate_of_stretches(
    stretches: Sequence[Stretch], planned: float | None, shown: Sequence[Days], today: date, *, assumed: float
) -> Rate:
    """
    Rate and total.

    Args:
        stretches: That do not overlap.
        planned: Ticks a year, used where fewer than LEAST_DAYS were counted; None where nobody said.
        shown: Days on display, in order and without overlap.
        today: Day asked about.
        assumed: Ticks a year where nobody said; the rate then counts as not known.

    >>> half = [Stretch(date(2025, 1, 1), date(2025, 7, 2), 182.0)]
    >>> year = [(date(2025, 1, 1), date(2026, 1, 1))]
    >>> round(rate_of_stretches(half, None, year, date(2026, 1, 1), assumed=9.0).so_far)
    365
    """
    until = [(first, min(end, today)) for first, end in shown if first < today]
    covered = [sum(common((one.first, one.end), days) for days in until) for one in stretches]
    told = sum(one.ticks for one in stretches) if stretches else None
    if sum(covered) >= LEAST_DAYS:
        on_show = sum(one.ticks for one, days in zip(stretches, covered, strict=True) if days)
        a_year, basis = on_show / sum(covered) * DAYS, COUNTED
    else:
        a_year, basis = supposed(planned, assumed)
    left = sum((end - first).days for first, end in until) - sum(covered)
    return Rate(a_year, (told or 0.0) + a_year * left / DAYS, basis, told)


def common(one: Days, other: Days) -> int:
    """
    Days that two stretches share.

    >>> common((date(2025, 1, 1), date(2025, 1, 9)), (date(2025, 1, 5), date(2025, 2, 1)))
    4
    """
    return max(0, (min(one[1], other[1]) - max(one[0], other[0])).days)
