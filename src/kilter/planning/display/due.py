"""What is due when: inspections, looks at what wears, planned replacements."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from kilter.measure.tables import table


@dataclass(frozen=True)
class Due:
    """
    One thing to do.

    Args:
        object: Number of the object.
        key: Of what is to be done.
        words: For people.
        day: By which; today for what was never done, or is over its day.
        last: When it was done last; None for never, as far as anybody wrote down.
        months: After which it comes again; 0 for once.
        over: Whether its day is past, or it was never done.
    """

    object: str
    key: str
    words: str
    day: date
    last: date | None
    months: int
    over: bool


@cache
def inspections() -> tuple[dict[str, Any], ...]:
    """Inspections that every object on display gets."""
    return tuple(table("planning/display")["inspection"])


def inspection_keys() -> tuple[str, ...]:
    """
    Their keys, and those of the looks at each kind of wear.

    >>> {"electrical", "dust", "look at belt"} <= set(inspection_keys())
    True
    """
    looks = (f"look at {key}" for key, row in table("planning/wear").items() if "look" in row)
    return (*(row["key"] for row in inspections()), *looks)


def interval_of(key: str) -> tuple[int, str, str]:
    """
    Months after which an inspection or a look comes again, with the kind and the source of that number.

    >>> interval_of("dust")[0], interval_of("look at belt")[:2]
    (6, (6, 'judgement'))
    """
    wear = key.removeprefix("look at ")
    if wear != key:
        row = table("planning/wear")[wear]
        return int(row["look"]["months"]), row["kind"], row["source"]
    row = next(one for one in inspections() if one["key"] == key)
    return int(row["months"]), row["kind"], row["source"]


def due(
    number: str, key: str, words: str, months: int, last: date | None, today: date, *, again: date | None = None
) -> Due:
    """
    When something is due again: after its months, or on an earlier day that whoever inspected asked for.

    >>> due("HC 1", "dust", "Dust out", 6, date(2025, 8, 31), date(2025, 9, 1)).day
    datetime.date(2026, 2, 28)
    """
    day = later(last, months) if last else today
    day = min(day, again) if again else day
    return Due(number, key, words, max(day, today), last, months, over=last is None or day < today)


def later(day: date, months: int) -> date:
    """The same day so many months on, or the last day of that month where it has none."""
    year, month = divmod(day.month - 1 + months, 12)
    year += day.year
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
