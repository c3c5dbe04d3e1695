"""Plain text for a terminal: headings, bars, columns and wrapped lines."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

WIDTH = 96
BAR = 20


def heading(words: str) -> str:
    """A heading with an empty line before it."""
    return f"\n{words.upper()}"


def bar(share: float) -> str:
    """
    A probability as a bar; something always shows for more than nothing.

    >>> bar(0.5), bar(0.001), bar(1.0)
    ('##########..........', '#...................', '####################')
    """
    full = min(BAR, max(round(share * BAR), 1 if share > 0 else 0))
    return "#" * full + "." * (BAR - full)


def wrapped(words: str, indent: int = 0, hang: int = 0) -> str:
    """
    A paragraph, wrapped and indented; later lines hang further in by `hang`.

    >>> print(wrapped("one two", indent=2))
      one two
    """
    first = " " * indent
    return textwrap.fill(
        words, WIDTH, initial_indent=first, subsequent_indent=first + " " * hang, break_on_hyphens=False
    )


def columns(rows: Iterable[Sequence[str]], indent: int = 2) -> str:
    """
    Rows with their columns below one another; the last column may be of any length.

    >>> print(columns([("a", "long"), ("bcd", "e")], indent=0))
    a    long
    bcd  e
    """
    table = [tuple(row) for row in rows]
    widths = [max(len(row[c]) for row in table) for c in range(len(table[0]))] if table else []
    lines = ("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in table)
    return "\n".join((" " * indent + line).rstrip() for line in lines)


def as_json(value: Any) -> str:
    """Plain data as JSON; a number that JSON cannot write (infinite, unknown) is null."""
    return json.dumps(_plain(value), indent=2, ensure_ascii=False, allow_nan=False)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    if isinstance(value, float) and (value != value or value in (float("inf"), float("-inf"))):
        return None
    return value
