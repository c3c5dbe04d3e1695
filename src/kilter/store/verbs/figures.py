"""Days and numbers that a verb takes: within what can be, or a message that says what may be."""

from __future__ import annotations

import math
from datetime import date, timedelta

from kilter.measure.errors import BadInput
from kilter.store.journal import now

EARLIEST = date(1900, 1, 1)


def day_of(value: date | None, what: str, doing: str, *, ahead: bool = False) -> date:
    """
    A day that was, or that may lie ahead.

    Args:
        value: The day.
        what: What it is, for the message.
        doing: What was being done, for the message.
        ahead: Whether it may lie ahead. One day is always allowed, for it is tomorrow already elsewhere.

    Raises:
        BadInput: There is none, or none that can be.
    """
    if value is None:
        raise BadInput(doing, f"no day under '{what}'", "year, month and day", "Fill it in.")
    tomorrow = now().date() + timedelta(days=1)
    if value < EARLIEST or (value > tomorrow and not ahead):
        raise BadInput(doing, f"{value} under '{what}'", f"{EARLIEST} to today", "Correct the day.")
    if value.year > tomorrow.year + 50:
        raise BadInput(doing, f"{value} under '{what}'", "within fifty years", "Correct the day.")
    return value


def amount_of(value: float | None, what: str, least: float, most: float, unit: str, doing: str) -> float | None:
    """
    A number within bounds; None, which stands for not known, stays None.

    Raises:
        BadInput: It lies beyond them, or is no number.
    """
    if value is None:
        return None
    if not math.isfinite(value) or not least <= value <= most:
        raise BadInput(doing, f"{value:g} {unit} under '{what}'", f"{least:g} to {most:g} {unit}, or nothing where "
                       "nobody knows", "Correct it.")  # fmt: skip
    return float(value)


def whole_of(value: int | None, what: str, most: int, doing: str) -> int | None:
    """
    A whole number from 0; None stays None.

    Raises:
        BadInput: It lies beyond the bounds.
    """
    if value is not None and not 0 <= value <= most:
        raise BadInput(doing, f"{value} under '{what}'", f"a whole number from 0 to {most}", "Correct it.")
    return value
