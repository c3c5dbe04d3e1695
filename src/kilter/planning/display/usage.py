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


COUNTED, PLANNED, ASSUMED = "counted", "planned", "assumed"
"""What a rate rests on; what is assumed is not known, and is shown so."""


@dataclass(frozen=True)
class Rate:
    """
    How fast something ticks.

    Args:
        a_year: Ticks in a year.
        so_far: Ticks on display until the day asked about.
        basis: COUNTED, PLANNED, or ASSUMED where nobody counted and nobody said.
        told: Ticks that were really counted; None where nothing was.
    """

    a_year: float
    so_far: float
    basis: str
    told: float | None = None

    @property
    def counted(self) -> bool:
        """Whether it was counted."""
        return self.basis == COUNTED

    @property
    def known(self) -> bool:
        """Whether anybody counted or planned it."""
        return self.basis != ASSUMED


def rate_of(
    counts: Sequence[Count], what: str, planned: float | None, since: date, today: date, *, assumed: float = 0.0
) -> Rate:
    """
    Rate and total of hours or switch-ons.

    Args:
        counts: In order of days.
        what: 'hours' or 'switch_ons'.
        planned: A year, used where too little was counted; None where nobody said.
        since: First day on display.
        today: Day asked about.
        assumed: A year, used where nobody said; the rate then counts as not known.

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
        return Rate(a_year, told[-1][1] + a_year * max(0, (today - told[-1][0]).days) / DAYS, COUNTED, told[-1][1])
    last, day = (told[-1][1], told[-1][0]) if told else (0.0, since)
    a_year, basis = supposed(planned, assumed)
    return Rate(a_year, last + a_year * max(0, (today - day).days) / DAYS, basis, told[-1][1] if told else None)


def supposed(planned: float | None, assumed: float) -> tuple[float, str]:
    """
    Ticks a year where they were not counted, and what they rest on; a plan of 0 is a plan.

    >>> supposed(0.0, 800.0), supposed(None, 800.0)
    ((0.0, 'planned'), (800.0, 'assumed'))
    """
    return (assumed, ASSUMED) if planned is None else (planned, PLANNED)
