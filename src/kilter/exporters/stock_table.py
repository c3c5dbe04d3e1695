"""A stock list as CSV that a spreadsheet opens without running what stands in a cell."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from kilter.planning.allocation.problem import Lot

HEADER = ("lot", "part", "count", "good", "words")
RISKY = ("=", "+", "-", "@", "\t", "\r")


def stock_table(lots: Iterable[Lot]) -> str:
    """
    The lots as text.

    >>> print(stock_table([Lot("box 1", "74LS00", 3, 0.9, "=1+1")]))
    lot,part,count,good,words
    box 1,74LS00,3,0.9,'=1+1
    <BLANKLINE>
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEADER)
    for lot in lots:
        writer.writerow([_tame(lot.key), _tame(lot.part), lot.count, f"{lot.good:g}", _tame(lot.words)])
    return text.getvalue()


def _tame(words: str) -> str:
    return f"'{words}" if words.startswith(RISKY) else words
