"""Numbers of the first switch-on, from data/safety/first_power.toml."""

from __future__ import annotations

from typing import Any

from kilter.measure.tables import table


def number(group: str, key: str) -> float:
    """One number; its unit stands in the data file."""
    return float(numbers()[group][key])


def numbers() -> dict[str, Any]:
    """The whole table."""
    return table("safety/first_power")
