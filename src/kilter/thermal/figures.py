"""The numbers of data/thermal.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from kilter.measure.tables import table


def number(key: str) -> float:
    """
    One number by its key.

    >>> 0 < number("camera_noise") < 5
    True
    """
    return float(table("thermal")["numbers"][key]["value"])


@dataclass(frozen=True, slots=True)
class Surface:
    """
    What a part shows to a camera.

    Args:
        key: Such as 'plastic' or 'bare_metal'.
        words: For people.
        low, high: Emissivity lies between them.
        readable: Whether a picture can be believed there at all.
        caution: What to know and do; '' for nothing.
    """

    key: str
    words: str
    low: float
    high: float
    readable: bool
    caution: str


@cache
def surfaces() -> Mapping[str, Surface]:
    """Every surface of the data file, by key."""
    return {
        key: Surface(key, row["words"], row["low"], row["high"], row["readable"], row.get("caution", ""))
        for key, row in table("thermal")["surfaces"].items()
    }
