"""Date codes: year and week, year and month; every year that fits is listed, none is picked."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from typing import Any

from kilter.measure.errors import OutOfRange
from kilter.measure.tables import table
from kilter.parts.markings.interpretation import Interpretation, weight

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
          "November", "December")  # fmt: skip
CENTURY, DECADE, CYCLE = 100, 10, 20
LAST_WEEK = 53


def usual_span() -> tuple[int, int]:
    """First and last year that are thought of unless somebody says better."""
    data = _data()["span"]
    return int(data["first"]), int(data["last"])


def date_codes(text: str, first: int | None = None, last: int | None = None) -> Iterator[Interpretation]:
    """
    Every date that a text may stand for between two years.

    Args:
        text: Two to four characters.
        first: First year that is possible, such as that in which the type was first made.
        last: Last year that is possible, such as that in which the object was acquired.

    Raises:
        OutOfRange: The years are the wrong way round.

    >>> [one.words for one in date_codes("8432", 1970, 1999)]
    ['week 32 of 1984']
    >>> [one.words for one in date_codes("P6", 1970, 1999)]
    ['June 1982']
    """
    usual = usual_span()
    span = usual[0] if first is None else first, usual[1] if last is None else last
    if span[0] > span[1]:
        raise OutOfRange("Cannot read a date code", f"the years {span[0]} to {span[1]}", "the earlier year first",
                         "Exchange the two.")  # fmt: skip
    capitals = text.strip().upper()
    if re.fullmatch(r"\d{4}", capitals):
        yield from _week(capitals[:2], capitals[2:], CENTURY, span, "year_week", "")
        yield from _week(capitals[2:], capitals[:2], CENTURY, span, "week_year", "week before year")
    if re.fullmatch(r"\d{3}", capitals):
        yield from _week(capitals[0], capitals[1:], DECADE, span, "year_digit_week", "one digit for the year")
    if re.fullmatch(r"[A-Z][1-9OND]", capitals):
        yield from _letter_month(capitals[0], capitals[1], span)
    if re.fullmatch(r"[1-9OND][A-Z]", capitals):
        yield from _month_letter(capitals[0], capitals[1], span)
    if re.fullmatch(r"\d[1-9A-DON]", capitals):
        yield from _digit_month(capitals[0], capitals[1], span)


def weeks_of(year: int) -> int:
    """Weeks of a year, 52 or 53 (ISO 8601)."""
    return date(year, 12, 28).isocalendar().week


def _week(ending: str, week: str, cycle: int, span: tuple[int, int], scheme: str, why: str) -> Iterator[Interpretation]:
    number = int(week)
    if not 1 <= number <= LAST_WEEK:
        return
    years = [year for year in range(span[0], span[1] + 1)
             if year % cycle == int(ending) and number <= weeks_of(year)]  # fmt: skip
    source = str(_data()["weeks"]["source"])
    yield from _dates(scheme, years, f"week {number} of", {"week": number}, why, source)


def _letter_month(letter: str, month: str, span: tuple[int, int]) -> Iterator[Interpretation]:
    data = _data()["letters"]
    if letter in data["years"] and month in data["months"]:
        years = _cycle(data, letter, span)
        number = data["months"].index(month) + 1
        yield from _dates("year_letter_month", years, MONTHS[number - 1], {"month": number}, "", data["source"])


def _month_letter(month: str, letter: str, span: tuple[int, int]) -> Iterator[Interpretation]:
    """The order of 1969 to 1975, month first."""
    data, turned = _data()["letters"], _data()["reversed"]
    if letter in data["years"] and month in data["months"]:
        years = [year for year in _cycle(data, letter, span) if turned["first"] <= year <= turned["last"]]
        number = data["months"].index(month) + 1
        why = "month before year, as until 1975"
        yield from _dates("month_year_letter", years, MONTHS[number - 1], {"month": number}, why, turned["source"])


def _digit_month(ending: str, month: str, span: tuple[int, int]) -> Iterator[Interpretation]:
    data = _data()["digit_month"]
    years = [year for year in range(span[0], span[1] + 1) if year % DECADE == int(ending)]
    seen = set()
    for scheme, months in zip(("year_digit_month", "year_digit_month_abc"), data["months"], strict=True):
        number = months.find(month) + 1
        if number and number not in seen:
            seen.add(number)
            why = "one digit for the year"
            yield from _dates(scheme, years, MONTHS[number - 1], {"month": number}, why, data["source"])


def _cycle(data: dict[str, Any], letter: str, span: tuple[int, int]) -> list[int]:
    place = data["years"].index(letter)
    return [year for year in range(max(span[0], data["first"]), span[1] + 1) if (year - data["first"]) % CYCLE == place]


def _dates(
    scheme: str, years: list[int], words: str, fields: dict[str, int], why: str, source: str
) -> Iterator[Interpretation]:
    """One reading for each year: they exclude one another, and share the weight of their scheme."""
    for year in years:
        others = [other for other in years if other != year]
        told = (f"the code is the same in {', '.join(map(str, others))}",) if others else ()
        yield Interpretation(scheme, "date", f"{words} {year}", {"year": year, **fields}, weight(scheme) / len(years),
                             (*filter(None, (why,)), *told), source)  # fmt: skip


def _data() -> dict[str, Any]:
    return table("markings/dates")
