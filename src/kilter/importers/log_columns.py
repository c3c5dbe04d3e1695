"""Tables that instruments write: where the data begin, what separates columns, which mark stands for the decimal."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from kilter.measure.errors import BadInput

LARGEST = 400 << 20
LOOKED_AT = 200
"""Bytes of a table, and lines among which its head is looked for."""

LONGEST_LINE = 20_000
DELIMITERS = ("\t", ";", ",", "|")
NUMBER = re.compile(r"[+-]?(\d+(?:\.\d*)?|\.\d+)([eE][+-]?\d+)?")


@dataclass(frozen=True)
class Layout:
    """
    How a table is laid out.

    Args:
        delimiter: Between columns.
        comma: Whether a comma stands for the decimal point.
        preamble: Lines before the head.
        head: Names of the columns; made up where there is none.
        first: Number of lines before the first line of data.
        sample: The first lines of data, split.
        headless: Whether the names were made up.
    """

    delimiter: str
    comma: bool
    preamble: tuple[str, ...]
    head: tuple[str, ...]
    first: int
    sample: tuple[tuple[str, ...], ...]
    headless: bool


def layout_of(path: Path, doing: str) -> Layout:
    """
    The layout of a table, found from its first lines.

    Raises:
        BadInput: It is no text, too large, or has no line with numbers.
    """
    lines = first_lines(path, doing)
    best: Layout | None = None
    for delimiter in DELIMITERS:
        found = _layout(lines, delimiter)
        if found and (best is None or len(found.sample) * len(found.head) > len(best.sample) * len(best.head)):
            best = found
    if best is None:
        raise BadInput(doing, f"no lines of data with two or more columns in the first {LOOKED_AT} of {path.name}",
                       "columns separated by comma, semicolon, tab or bar", "Export the log as CSV.")  # fmt: skip
    return best


def first_lines(path: Path, doing: str) -> list[str]:
    """
    The first lines of a text file.

    Raises:
        BadInput: It cannot be read, is larger than LARGEST, or is no text.
    """
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            raw = [line[:LONGEST_LINE] for line in islice(iter(lambda: file.readline(1 << 20), b""), LOOKED_AT)]
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that no file can have"
        raise BadInput(doing, f"{reason}: {path.name!r}", "a file that can be read",
                       "Check the name and the disk.") from None  # fmt: skip
    if size > LARGEST:
        raise BadInput(doing, f"{path.name} with {size} bytes", f"up to {LARGEST} bytes", "Export a shorter stretch.")
    if not raw or any(b"\0" in line for line in raw):
        raise BadInput(doing, f"{path.name}, which is {'no text' if raw else 'empty'}", "a text with columns (UTF-8)",
                       "Export it as CSV.")  # fmt: skip
    return [decoded(line) for line in raw]


def decoded(raw: bytes) -> str:
    """A line as text; bytes that are no UTF-8 are taken as Western ones."""
    try:
        return raw.decode("utf-8-sig").rstrip("\r\n")
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace").rstrip("\r\n")


def split_line(line: str, delimiter: str) -> tuple[str, ...]:
    """The cells of a line."""
    try:
        row = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        row = line.split(delimiter)
    return tuple(cell.strip() for cell in row)


def plain(cell: str, *, comma: bool) -> str:
    """
    A number's text with a point for the decimal.

    >>> plain("1.234,5", comma=True), plain("1,234.5", comma=False)
    ('1234.5', '1,234.5')
    """
    return cell.replace(".", "").replace(",", ".") if comma and "," in cell else cell


def _layout(lines: Sequence[str], delimiter: str) -> Layout | None:
    """The layout with this delimiter: the longest run of lines of equal width that begin to hold numbers."""
    rows = [split_line(line, delimiter) for line in lines]
    first = next((i for i, row in enumerate(rows) if _is_data(row, delimiter) and _goes_on(rows, i)), None)
    if first is None:
        return None
    width = len(rows[first])
    sample = tuple(row for row in rows[first:] if len(row) == width)
    comma = delimiter != "," and any(re.fullmatch(r"[+-]?\d+,\d+([eE][+-]?\d+)?( ?\S+)?", c) for r in sample for c in r)
    before = next((i for i in range(first - 1, -1, -1) if any(rows[i])), None)
    named = before is not None and len(rows[before]) == width and not rows[before][0].startswith(("#", ";"))
    if before is not None and not named and len(rows[before]) == width:
        named = delimiter not in ";" and bool(rows[before][0].lstrip("#; "))
    head = tuple(c.lstrip("#; ") for c in rows[before]) if named and before is not None else ()
    names = head or tuple(f"column {i + 1}" for i in range(width))
    preamble = tuple(lines[: before if named and before is not None else first])
    return Layout(delimiter, comma, preamble, names, first, sample, headless=not head)


def _is_data(row: Sequence[str], delimiter: str) -> bool:
    """Whether a line has two or more cells of which most begin like numbers, and none of its cells is a comment."""
    if len(row) < 2 or row[0].startswith(("#", ";", "//")):
        return False
    cells = [cell for cell in row if cell]
    numbers = [cell for cell in cells if re.match(r"[+-]?\.?\d|0x|[xXzZ]$", cell)]
    return len(cells) >= 2 and bool(numbers) and len(numbers) * 3 >= len(cells) and delimiter is not None


def _goes_on(rows: Sequence[Sequence[str]], first: int) -> bool:
    """Whether the next lines that are not empty have as many cells."""
    following = [len(row) for row in rows[first : first + 6] if any(row)]
    return following.count(len(rows[first])) * 2 > len(following) - 1
