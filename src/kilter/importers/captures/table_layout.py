"""The layout of a table of numbers in a text file: encoding, delimiter, decimal mark, columns, first row of numbers."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from kilter.importers.captures.open_file import refused

POINT = re.compile(r'\s*"?\s*[-+]?(?:\d+\.?\d*|\.\d+)(?:[eEdD][-+]?\d+)?\s*"?\s*')
COMMA = re.compile(r'\s*"?\s*[-+]?(?:\d+,?\d*|,\d+)(?:[eEdD][-+]?\d+)?\s*"?\s*')
GAP = re.compile(r'\s*"?\s*(?:[-+]?nan|[-+]?inf(?:inity)?|n/?a|null|-{2,}|\*+|o\.?l\.?|#+)?\s*"?\s*', re.IGNORECASE)
SAMPLE = 60
"""Lines of the tail that settle which columns hold numbers."""
MOST_COLUMNS = 512


@dataclass(frozen=True, slots=True)
class Layout:
    """
    Where the numbers are.

    Args:
        encoding: Of the file.
        delimiter: Between cells; None for white space.
        decimal_comma: Whether the decimal mark is a comma.
        columns: Indices of columns with numbers.
        first: Line index of the first row of numbers.
        header: Cells of the lines before it.
        beside: Cells of the first rows, whose other columns may hold remarks.
        quoted: Whether numbers stand in quotes.
        samples: Some rows of the tail, for the digits they are written with.
    """

    encoding: str
    delimiter: str | None
    decimal_comma: bool
    columns: tuple[int, ...]
    first: int
    header: tuple[tuple[str, ...], ...]
    beside: tuple[tuple[str, ...], ...]
    quoted: bool
    samples: tuple[tuple[str, ...], ...]


def layout_of(path: Path, head: bytes) -> Layout:
    """
    The layout of a text file.

    Raises:
        BadInput: Binary, or without a table of numbers near its beginning.
    """
    encoding = _encoding(path, head)
    text = head.decode(encoding, errors="replace")
    lines = text.splitlines()
    if len(head) < path.stat().st_size and lines:
        lines.pop()  # it may be cut
    if not lines:
        raise refused(path, f"no line end in the first {len(head)} bytes")
    numbered = [line for line in lines if re.search(r"\d", line)]
    best = max((_judge(numbered[-SAMPLE:], *way) for way in _ways(numbered)), default=None, key=lambda one: one[0])
    if best is None or not best[0][1]:
        raise refused(path, "no rows of numbers", do_next="Check that it is the export of samples, not of settings.")
    _, delimiter, comma, columns = best
    rows = [tuple(_row(line, delimiter)) for line in lines]
    first = _first(rows, columns, comma)
    if first is None:
        raise refused(path, "no two rows of numbers", do_next="Export the samples of the record.")
    tail = tuple(row for row in rows[first:][-SAMPLE:])
    return Layout(encoding, delimiter, comma, columns, first, tuple(rows[:first]), tuple(rows[first : first + 40]),
                  any('"' in lines[k] for k in range(first, min(first + 50, len(lines)))), tail)  # fmt: skip


def cells(line: str, delimiter: str | None) -> list[str]:
    """
    The cells of a line; quotes hold a delimiter together.

    >>> cells('"a, b", 2', ","), cells(" 1   2 ", None)
    (['a, b', '2'], ['1', '2'])
    """
    if delimiter is None:
        return line.split()
    if '"' not in line:
        return [cell.strip() for cell in line.split(delimiter)]
    found = re.findall(rf'\s*("(?:[^"]|"")*"|[^{re.escape(delimiter)}]*)\s*(?:{re.escape(delimiter)}|$)', line)
    kept = found[:-1] if not line.rstrip().endswith(delimiter) else found  # the pattern also finds the empty end
    return [cell.strip().strip('"').strip() for cell in kept]


def _row(line: str, delimiter: str | None) -> list[str]:
    """The cells of a line; between white space a line 'key: value' stays one cell, and a comment mark is no cell."""
    if delimiter is None and re.match(r"\W*[A-Za-z][^:=]*[:=]", line):
        return [line.strip()]
    found = cells(line, delimiter)
    return found[1:] if delimiter is None and found[:1] == ["#"] else found


def is_number(cell: str, *, comma: bool) -> bool:
    """Whether a cell is written as a number with that decimal mark."""
    return bool((COMMA if comma else POINT).fullmatch(cell))


def _encoding(path: Path, head: bytes) -> str:
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if head.startswith(mark):
            return name
    controls = sum(byte < 9 or 13 < byte < 32 for byte in head[:65536])
    if b"\0" in head or controls > len(head[:65536]) // 100:
        raise refused(path, "bytes that are no text")
    try:
        head[: max(0, len(head) - 4)].decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252" if not any(byte in head for byte in b"\x81\x8d\x8f\x90\x9d") else "latin-1"
    return "utf-8"


def _ways(lines: list[str]) -> list[tuple[str | None, bool]]:
    """Delimiters and decimal marks worth trying, the plainest first."""
    text = "\n".join(lines[-SAMPLE:])
    ways: list[tuple[str | None, bool]] = []
    for delimiter in (",", ";", "\t"):
        if delimiter in text:
            ways.append((delimiter, False))
            if delimiter != ",":
                ways.append((delimiter, True))
    return [*ways, (None, False), (None, True)]


def _judge(
    lines: list[str], delimiter: str | None, comma: bool
) -> tuple[tuple[float, int, int, int], str | None, bool, tuple[int, ...]]:
    """How well a way of reading fits the tail: the share of lines with the commonest columns of numbers, and those."""
    masks: Counter[tuple[int, ...]] = Counter()
    used: Counter[int] = Counter()
    for line in lines:
        row = cells(line, delimiter)[:MOST_COLUMNS]
        numbers = tuple(k for k, cell in enumerate(row) if cell and is_number(cell, comma=comma))
        masks[numbers] += 1
        used.update(numbers)
    columns = tuple(sorted(k for k, count in used.items() if 2 * count > len(lines)))
    fits = sum(set(columns) <= set(mask) for mask in masks.elements()) if columns else 0
    words = sum(len(cells(line, delimiter)) for line in lines) - sum(used.values()) if columns else 0
    plain = 0 if comma else 1
    standing = (round(fits / max(len(lines), 1), 2), min(len(columns), 1), -words, plain)
    return standing, delimiter, comma, columns


def _first(rows: list[tuple[str, ...]], columns: tuple[int, ...], comma: bool) -> int | None:
    """The first of two rows, one below the other but for blank lines, with numbers or gaps in all columns."""
    filled = [at for at, row in enumerate(rows) if any(row)]
    for at, after in pairwise(filled):
        if _is_row(rows[at], columns, comma=comma) and _is_row(rows[after], columns, comma=comma):
            return at
    return None


def _is_row(row: tuple[str, ...], columns: tuple[int, ...], *, comma: bool) -> bool:
    if len(row) <= columns[-1]:
        return False
    wanted = [row[k] for k in columns]
    numbers = sum(is_number(cell, comma=comma) for cell in wanted)
    return numbers > 0 and 2 * numbers >= len(wanted) and all(
        is_number(cell, comma=comma) or GAP.fullmatch(cell) for cell in wanted
    )  # fmt: skip
