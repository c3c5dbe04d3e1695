"""Numbers of planning, from data/planning."""

from __future__ import annotations

from typing import Any

from kilter.measure.tables import table


def number(name: str, key: str) -> float:
    """
    One number by its file and key; its unit stands in the file.

    >>> 0 < number("allocation", "gap") < 0.1
    True
    """
    return float(numbers(name, key))


def numbers(name: str, key: str) -> Any:
    """A list or a table of numbers by its file and key."""
    return table(f"planning/{name}")[key]["value"]
