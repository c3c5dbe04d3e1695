"""The numbers of a table, read in blocks: a fast way for clean blocks, a careful one where cells are empty or torn."""

from __future__ import annotations

import codecs
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from kilter.importers.captures.open_file import refused
from kilter.importers.captures.table_layout import GAP, Layout, cells
from kilter.signals.settings import setting
from kilter.signals.waveform import Floats

PACKED = (".gz", ".bz2", ".xz", ".lzma")
"""Endings that the array library would unpack by itself."""
LONGEST_LINE = 1 << 20


@dataclass
class Numbers:
    """
    What was read.

    Args:
        table: shape (n_rows, n_columns)
        gaps: Cells without a number, which are NaN.
        torn: Lines that are no row of the table and were left out.
    """

    table: Floats
    gaps: int = 0
    torn: int = 0


def read_numbers(path: Path, layout: Layout) -> Numbers:
    """
    All rows of the table.

    Raises:
        BadInput: Too many numbers, or a line without an end.
    """
    whole = _read_whole(path, layout)
    if whole is not None:
        return _checked(path, Numbers(whole, int(np.count_nonzero(np.isnan(whole)))))
    found = Numbers(np.empty((0, len(layout.columns))))
    parts: list[Floats] = []
    total = 0
    for lines in _blocks(path, layout):
        part = _read_clean(lines, layout)
        parts.append(_read_torn(lines, layout, found) if part is None else part)
        total += parts[-1].size
        if total > setting("largest_samples"):
            raise _too_many(path)
    found.table = np.concatenate(parts) if parts else found.table
    found.gaps = int(np.count_nonzero(np.isnan(found.table)))
    return _checked(path, found)


def _checked(path: Path, found: Numbers) -> Numbers:
    if found.table.size > setting("largest_samples"):
        raise _too_many(path)
    if len(found.table) < 2:
        raise refused(path, f"{len(found.table)} rows of numbers", "two rows or more", "Export a longer record.")
    return found


def _too_many(path: Path) -> Exception:
    return refused(path, "too many numbers", f"up to {setting('largest_samples'):.0e}", "Export a shorter record.")


def _is_plain(layout: Layout) -> bool:
    return not layout.decimal_comma and layout.encoding in ("utf-8", "cp1252", "latin-1") and not layout.quoted


def _read_whole(path: Path, layout: Layout) -> Floats | None:
    """The whole file in one go; None where it has to be read with care."""
    if not _is_plain(layout) or path.suffix.lower() in PACKED or path.stat().st_size < 1 << 16:
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return np.loadtxt(
                str(path), delimiter=layout.delimiter, skiprows=layout.first, usecols=layout.columns, ndmin=2,
                comments=None, encoding="latin-1", max_rows=int(setting("largest_samples")),
            )  # fmt: skip
    except (ValueError, OSError, OverflowError):
        return None


def _blocks(path: Path, layout: Layout) -> Iterator[list[str]]:
    """Lines of the table, block by block, with a decimal point."""
    decoder = codecs.getincrementaldecoder(layout.encoding)(errors="replace")
    skip, rest = layout.first, ""
    with path.open("rb") as file:
        while raw := file.read(int(setting("block"))):
            lines = (rest + decoder.decode(raw)).replace("\r\n", "\n").replace("\r", "\n").split("\n")
            rest = lines.pop()
            if len(rest) > LONGEST_LINE:
                raise refused(path, f"a line of more than {LONGEST_LINE} characters", "lines of a table")
            yield _prepared(lines[skip:], layout)
            skip = max(0, skip - len(lines))
    last = rest + decoder.decode(b"", final=True)
    yield _prepared([last][skip:], layout)


def _prepared(lines: list[str], layout: Layout) -> list[str]:
    lines = [line for line in lines if line and not line.isspace()]
    return [line.replace(",", ".") for line in lines] if layout.decimal_comma else lines


def _read_clean(lines: list[str], layout: Layout) -> Floats | None:
    if not lines:
        return np.empty((0, len(layout.columns)))
    try:
        return np.loadtxt(lines, delimiter=layout.delimiter, usecols=layout.columns, ndmin=2, comments=None,
                          quotechar='"' if layout.quoted else None)  # fmt: skip
    except (ValueError, OverflowError):
        return None


def _read_torn(lines: list[str], layout: Layout, found: Numbers) -> Floats:
    """Row by row: a cell without a number is NaN, a line that is no row is left out and counted."""
    rows: list[list[float]] = []
    for line in lines:
        row = cells(line, layout.delimiter)
        numbers = [_number(row[k]) if k < len(row) else None for k in layout.columns]
        if None in numbers or all(n != n for n in numbers if n is not None):
            found.torn += 1
        else:
            rows.append([n for n in numbers if n is not None])
    return np.array(rows, dtype=float).reshape(len(rows), len(layout.columns))


def _number(cell: str) -> float | None:
    try:
        value = float(cell)
    except ValueError:
        return float("nan") if GAP.fullmatch(cell) else None
    return value if abs(value) != float("inf") else float("nan")
