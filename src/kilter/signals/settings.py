"""The numbers of the analysis of captures, read from data/signals.toml."""

from __future__ import annotations

from typing import Any

from kilter.measure.tables import table


def setting(key: str) -> float:
    """
    One number by its key.

    >>> setting("low_reference"), setting("high_reference")
    (0.1, 0.9)
    """
    return float(table("signals")[key]["value"])


def settings(key: str) -> Any:
    """A list of numbers by its key."""
    return table("signals")[key]["value"]
