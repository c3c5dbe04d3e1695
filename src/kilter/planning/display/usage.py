"""Running hours and switch-ons: from the counts that people wrote down to a rate and a total."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from kilter.measure.errors import BadInput

DAYS, WEEKS = 365.25, 365.25 / 7
"""Of a year."""
LEAST_DAYS = 28
"""Days between the first and last count from which a rate is taken."""


@dataclass(frozen=True)
class Count:
    """What an hour meter and a tally of switch-ons showed on a day; None for not written down."""

    day: date
    hours: float | None = None
    switch_ons: float | None = None


@dataclass(frozen=True)
class Rate:
    """
    How fast something ticks.

    Args:
        a_year: Ticks in a year.
        so_far: Ticks on display until the day asked about.
        counted: Whether it was counted; False for a plan.
    """

    a_year: float
    so_far: float
    counted: bool


def rate_of(counts: Sequence[Count], what: str, planned: float, since: date, today: date) -> Rate:
    """
    Rate and total of hours or switch-ons.

    Args:
        counts: In order of days.
        what: 'hours' or 'switch_ons'.
        planned: A year, used where too little was counted.
        since: First day on display.
        today: Day asked about.

    Raises:
        BadInput: Counts that fall, or days that run backwards.

    >>> told = [Count(date(2025, 1, 1), 100.0), Count(date(2025, 12, 31), 464.0)]
    >>> round(rate_of(told, "hours", 999.0, date(2025, 1, 1), date(2026, 1, 1)).so_far)
    465
    """
    told = [(one.day, value) for one in counts if (value := getattr(one, what)) is not None]
    for (day, value), (next_day, next_value) in pairwise(told):
        if next_day < day or next_value < value:
            raise BadInput("Cannot tell how much an object ran",
                           f"{next_value:g} {what} on {next_day} after {value:g} on {day}",
                           "days in order, counts that never fall",
                           "Correct the count; after a change of the counter add what the old one showed.")  # fmt: skip
    if len(told) > 1 and (told[-1][0] - told[0][0]).days >= LEAST_DAYS:
        a_year = (told[-1][1] - told[0][1]) / ((told[-1][0] - told[0][0]).days / DAYS)
        return Rate(a_year, told[-1][1] + a_year * max(0, (today - told[-1][0]).days) / DAYS, counted=True)
    last, day = (told[-1][1], told[-1][0]) if told else (0.0, since)
    return Rate(planned, last + planned * max(0, (today - day).days) / DAYS, counted=False)
