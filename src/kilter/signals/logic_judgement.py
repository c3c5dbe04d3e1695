"""The limits of data/logic_activity.toml by name."""

from __future__ import annotations

from kilter.measure.tables import table


def limit(section: str, key: str) -> float:
    """
    One number.

    >>> limit("burst", "gap")
    10.0
    """
    return float(table("logic_activity")[section][key])
