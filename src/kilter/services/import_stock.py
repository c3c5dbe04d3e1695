"""Take a stock list in: what would be taken, what is left out and why, before anything is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kilter.planning.allocation.problem import Lot


@dataclass(frozen=True)
class StockReport:
    """
    What one or more lists hold together.

    Args:
        lots: That can be used.
        pieces: Pieces of each part: all, and those that are likely to be good (summed chances).
        doubtful: Pieces in a condition that nobody wrote down.
    """

    lots: tuple[Lot, ...]
    pieces: tuple[tuple[str, int, float], ...]
    doubtful: int


def stock_report(lots: Sequence[Lot]) -> StockReport:
    """
    Counts the pieces by part.

    >>> stock_report([Lot("1", "4116", 2, 0.5), Lot("2", "4116", 1, 1.0)]).pieces
    (('4116', 3, 2.0),)
    """
    counts: dict[str, tuple[int, float]] = {}
    for lot in lots:
        all_, good = counts.get(lot.part, (0, 0.0))
        counts[lot.part] = all_ + lot.count, good + lot.count * lot.good
    doubtful = sum(lot.count for lot in lots if "not known" in lot.words)
    return StockReport(tuple(lots), tuple((part, *counts[part]) for part in sorted(counts)), doubtful)
