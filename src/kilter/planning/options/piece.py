"""A piece that could be put in place of a part."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Spare:
    """
    One piece that is there, or assumed to be had.

    Args:
        kind: 'original' (the maker's type), 'substitute' or 'donor'.
        good: Chance that it is good, and does the work where it is of another type.
        origin: Lot or donor; '' where it is only assumed that one can be had.
        conditions: What has to be seen to where it is of another type.
    """

    kind: str
    good: float
    origin: str = ""
    conditions: str = ""
