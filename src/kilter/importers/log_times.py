"""Time stamps as meters write them: ISO 8601, dates in any order, time of day, seconds, seconds since 1970."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DAY = 86400.0
LONGEST = 1e10
"""Seconds, three centuries: what stands farther from the first entry of a log was damaged."""
YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
YEAR_LAST = re.compile(r"(\d{1,2})([-/.])(\d{1,2})[-/.](\d{4}|\d{2})\b")
CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,:](\d+))?)?\s*([AaPp])?\.?[Mm]?\.?\s*(Z|[+-]\d{2}:?\d{2})?")
NUMBER = re.compile(r"[+-]?(\d+(?:\.\d*)?|\.\d+)([eE][+-]?\d+)?$")
EPOCH = ((1e8, 1e10, 1.0), (1e11, 1e13, 1e-3))
"""Ranges of bare numbers that are seconds or milliseconds since 1970: 1973 to 2286."""


@dataclass(frozen=True)
class Times:
    """
    The time column of a log.

    Args:
        seconds: From the first entry, NaN where a cell could not be read, shape (n,).
        began: ISO 8601 of the first entry, '' where no date is told or its order is in doubt.
        doubts: Sentences.
    """

    seconds: Floats
    began: str
    doubts: tuple[str, ...] = ()


def looks_like_time(cells: Sequence[str]) -> bool:
    """
    Whether all cells that are not empty hold a clock or a date.

    >>> looks_like_time(["12:01:05", ""]), looks_like_time(["4.98"])
    (True, False)
    """
    told = [cell for cell in cells if cell]
    return bool(told) and all(CLOCK.search(cell) or YEAR_FIRST.search(cell) or YEAR_LAST.search(cell) for cell in told)


def read_times(cells: Sequence[str], *, unit: float = 1.0) -> Times:
    """
    The times of a column; an entry farther than LONGEST from the first has none.

    Args:
        cells: As written; date and clock of one entry joined by a space.
        unit: Seconds in a bare number.

    >>> read_times(["23:59:59", "00:00:01"]).seconds
    array([0., 2.])
    """
    told = _told_times(cells, unit)
    within = np.abs(np.nan_to_num(told.seconds, nan=0.0)) <= LONGEST
    return Times(np.where(within, told.seconds, np.nan), told.began, told.doubts)


def _told_times(cells: Sequence[str], unit: float) -> Times:
    if all(NUMBER.match(cell) or not cell for cell in cells):
        return _bare(cells, unit)
    day_first, doubts = _order(cells)
    dated = any(YEAR_FIRST.search(cell) or YEAR_LAST.search(cell) for cell in cells)
    seconds = np.array([_seconds(cell, day_first=day_first) for cell in cells], np.float64)
    if not dated:
        seconds = _over_midnight(seconds)
    told = np.flatnonzero(~np.isnan(seconds))
    if not len(told):
        return Times(seconds, "", doubts)
    first = float(seconds[told[0]])
    began = _iso(first) if dated and not doubts else ""
    return Times(seconds - first, began, doubts)


def _bare(cells: Sequence[str], unit: float) -> Times:
    values = np.array([float(cell) if cell else np.nan for cell in cells])
    told = values[np.isfinite(values)]
    if not len(told):
        return Times(np.full(len(values), np.nan), "")
    for low, high, scale in EPOCH:
        if low <= told[0] < high:
            return Times((values - told[0]) * scale, _iso(float(told[0]) * scale))
    return Times((values - told[0]) * unit, "")


def _order(cells: Sequence[str]) -> tuple[bool, tuple[str, ...]]:
    """Whether the day stands before the month, and a doubt where both would do."""
    matches = [match for cell in cells if (match := YEAR_LAST.search(cell)) and not YEAR_FIRST.search(cell)]
    if not matches or any(match[2] == "." or int(match[1]) > 12 for match in matches):
        return True, ()
    if any(int(match[3]) > 12 for match in matches):
        return False, ()
    spans = {}
    for day_first in (True, False):
        seconds = np.array([_seconds(cell, day_first=day_first) for cell in cells])
        seconds = seconds[~np.isnan(seconds)]
        back = len(seconds) < 2 or bool((np.diff(seconds) < 0).any())
        spans[day_first] = (back, float(np.ptp(seconds)) if len(seconds) else 0.0)
    day_first = spans[True] <= spans[False]
    first = "day" if day_first else "month"
    return day_first, (f"Whether '{matches[0][0]}' begins with day or month cannot be told; {first} first is assumed.",)


def _seconds(cell: str, *, day_first: bool) -> float:
    """Seconds since 1970, or since midnight where there is no date; NaN for no time."""
    date = _date(cell, day_first=day_first)
    rest = YEAR_FIRST.sub("", YEAR_LAST.sub("", cell, 1), 1).lstrip("T ")
    clock = CLOCK.search(rest)
    if clock is None:
        return date if date is not None else float("nan")
    hour, minute, second = int(clock[1]), int(clock[2]), int(clock[3] or 0)
    if clock[5]:
        hour = hour % 12 + (12 if clock[5].lower() == "p" else 0)
    if minute > 59 or second > 60 or (date is not None and hour > 24):
        return float("nan")
    part = float(f"0.{clock[4]}") if clock[4] else 0.0
    zone = clock[6] or ""
    away = 0.0
    if zone[:1] in {"+", "-"}:
        away = (int(zone[1:3]) * 3600 + int(zone[-2:]) * 60) * (-1.0 if zone[0] == "-" else 1.0)
    return (date or 0.0) + hour * 3600.0 + minute * 60.0 + second + part - away


def _date(cell: str, *, day_first: bool) -> float | None:
    """Seconds since 1970 of a date, None where there is none."""
    if match := YEAR_FIRST.search(cell):
        year, month, day = int(match[1]), int(match[2]), int(match[3])
    elif match := YEAR_LAST.search(cell):
        one, other, year = int(match[1]), int(match[3]), int(match[4])
        day, month = (one, other) if day_first else (other, one)
        year += 0 if year > 99 else 2000
    else:
        return None
    try:
        return datetime(year, month, day, tzinfo=UTC).timestamp()
    except (ValueError, OverflowError):
        return None


def _over_midnight(seconds: Floats) -> Floats:
    """A clock that falls back by more than half a day has passed midnight."""
    fallen = np.concatenate([[False], np.diff(seconds) < -DAY / 2])
    return np.asarray(seconds + DAY * np.cumsum(fallen))


def _iso(seconds: float) -> str:
    try:
        moment = datetime(1970, 1, 1, tzinfo=timezone.utc) + timedelta(seconds=seconds)  # noqa: UP017
    except OverflowError:
        return ""
    return moment.replace(tzinfo=None).isoformat(timespec="seconds")
