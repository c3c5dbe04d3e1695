"""Words of the display for templates: what was inspected, kinds of wear, objects in which something is likeliest."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from django import template

from kilter.measure.tables import table
from kilter.planning.display.due import inspections
from kilter.web.spoken import by_locale

register = template.Library()
COMMAND = re.compile(r" \(kilter \w+\)$")
LIKELIEST = 3
LEAST = 0.005
"""Chance below which an object is not named."""


@register.filter
def inspected(key: str) -> str:
    """What an inspection of that key is, in words that the catalogue knows."""
    kind = key.removeprefix("look at ")
    if kind != key:
        return f"Look at: {wear_words(kind)}"
    return next((without_command(row["words"]) for row in inspections() if row["key"] == key), key)


@register.filter
def without_command(words: str) -> str:
    """
    What is due without the command that the list names behind it, which no page needs.

    >>> without_command("Read the acceptance list again (kilter proof)")
    'Read the acceptance list again'
    """
    return COMMAND.sub("", words)


@register.filter
def amount(value: float, digits: int = 3) -> str:
    """
    A number to a few significant digits, by locale, without noughts behind the decimal sign and without groups.

    >>> amount(9.5, 4), amount(12345.6, 3), amount(0.0)
    ('9.5', '12300', '0')
    """
    rounded = float(f"{float(value):.{digits}g}")
    return by_locale(f"{rounded:.0f}" if rounded == int(rounded) else repr(rounded))


@register.filter
def wear_words(kind: str) -> str:
    """A kind of wear in words; its key where a later release has dropped it."""
    return str(table("planning/wear").get(kind, {}).get("words", kind))


@register.filter
def likeliest(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The few objects in which one failure or more is likeliest."""
    return [one for one in sorted(rows, key=lambda one: -float(one["chance"]))[:LIKELIEST] if one["chance"] >= LEAST]
