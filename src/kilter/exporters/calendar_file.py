"""Dates as a calendar file that any calendar program reads: iCalendar, RFC 5545."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from kilter.planning.display.due import Due

LINE = 75
"""Octets of a line, its end left out (RFC 5545, 3.1)."""
PRODUCT = "-//Kilter//Objects on display//EN"


def calendar_file(title: str, dates: Iterable[Due], now: datetime, *, house: str = "") -> str:
    """
    All dates as events of a whole day, those that come again with a rule of repetition.

    Args:
        title: Of the calendar.
        dates: What is due.
        now: Time of writing, with its zone.
        house: What no other house has, so that events of two houses keep apart; the title unless said.

    Source: RFC 5545, 3.1 (folding), 3.3.11 (text), 3.4 to 3.6.1 (calendar and event); the name of the calendar by
    RFC 7986, 5.1.
    """
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", f"NAME:{_text(title)}"]
    for one in dates:
        lines += _event(house or title, one, stamp)
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _event(house: str, one: Due, stamp: str) -> list[str]:
    words = f"{one.object}: {one.words}"
    told = f"Last done {one.last.isoformat()}." if one.last else "Nobody wrote down that it was ever done."
    rule = [f"RRULE:FREQ=MONTHLY;INTERVAL={one.months}"] if one.months and one.day.day <= 28 else []
    return ["BEGIN:VEVENT", f"UID:{_name(house, one)}", f"DTSTAMP:{stamp}", f"DTSTART;VALUE=DATE:{_day(one.day)}",
            f"DTEND;VALUE=DATE:{_day(one.day + timedelta(days=1))}", *rule, f"SUMMARY:{_text(words)}",
            f"DESCRIPTION:{_text(told)}", "TRANSP:TRANSPARENT", "END:VEVENT"]  # fmt: skip


def _name(house: str, one: Due) -> str:
    """A name that the same thing keeps, so that a calendar read in again moves its events instead of doubling them."""
    return hashlib.sha256("\0".join((house, one.object, one.key)).encode()).hexdigest()[:32] + "@kilter.invalid"


def _day(day: date) -> str:
    return day.strftime("%Y%m%d")


def _text(words: str) -> str:
    """
    A text with what has a meaning of its own escaped.

    >>> _text("a,b; c\\\\d\\ne")
    'a\\\\,b\\\\; c\\\\\\\\d\\\\ne'
    """
    for plain, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\r\n", "\\n"), ("\n", "\\n"), ("\r", "\\n")):
        words = words.replace(plain, escaped)
    return "".join(one for one in words if one >= " " and one != "\x7f")


def _folded(line: str) -> str:
    """A line in pieces of at most 75 octets, those after the first begun by a blank; no character is cut."""
    pieces, piece, size = [], "", 0
    for one in line:
        width = len(one.encode())
        if size + width > LINE:
            pieces.append(piece)
            piece, size = " ", 1
        piece, size = piece + one, size + width
    return "\r\n".join([*pieces, piece])
