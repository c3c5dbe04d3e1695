"""Temperatures as text: the table of numbers is found by its structure, whatever stands before, beside and after it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput
from kilter.thermal.figures import number

Floats = NDArray[np.float64]

NUMBER = re.compile(r"[-+−]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$")
BLANK = ("", "nan", "-", "--", "n/a")
SEPARATORS = (";", "\t", ",", " ")
MOST_WORDS = 20_000
"""Characters beside the table that are looked through for a unit."""


@dataclass(frozen=True)
class TextTable:
    """Numbers of the table, shape (h, w); the words around it; what was inferred."""

    values: Floats
    words: str
    notes: tuple[str, ...]


def text_values(text: str, doing: str) -> TextTable:
    """
    The largest table of numbers in a text.

    Args:
        text: With ';', tab, ',' or blanks between columns, decimal point or comma.
        doing: What is being read, for messages.

    Raises:
        BadInput: No table, or one that can be read in two ways.
    """
    lines = [line.strip("\r\n") for line in text.splitlines()]
    tables = [_table(lines, separator, comma) for separator in _separators(lines) for comma in (False, True)
              if not (comma and separator == ",")]  # fmt: skip
    best = max((one for one in tables if one is not None), key=lambda one: one.values.size, default=None)
    if best is None:
        least = int(number("least_side"))
        raise BadInput(doing, "no table of numbers", f"at least {least} lines of equally many numbers, {least} or more",
                       "Export the temperature of every pixel as CSV.")  # fmt: skip
    if best.notes[0] == "," and _torn(best.values):
        raise BadInput(doing, "commas both between columns and in numbers, or so it seems",
                       "';' or tab between columns where the decimal mark is a comma",
                       "Export the picture again with ';' between columns or a decimal point.")  # fmt: skip
    values, note = _without_counts(best.values)
    return TextTable(values, best.words, (note,) if note else ())


def _separators(lines: Sequence[str]) -> list[str]:
    """Those that stand often enough in some line; each is tried, so that none is favoured."""
    least = int(number("least_side")) - 1
    return [one for one in SEPARATORS if any(line.count(one) >= least for line in lines)]


def _table(lines: Sequence[str], separator: str, comma: bool) -> TextTable | None:
    """The longest run of lines with equally many numbers, read with one separator and decimal mark."""
    least = int(number("least_side"))
    best, run, width, start = (0, 0), 0, 0, 0
    rows = [_cells(line, separator) for line in lines]
    for place, row in enumerate([*rows, []]):
        fits = len(row) >= least and _numeric(row, comma)
        if not (fits and len(row) == width):
            if run * width > (best[1] - best[0]) * (len(rows[best[0]]) if best[1] else 0):
                best = (start, start + run)
            run, width, start = 0, len(row) if fits else 0, place
        run += 1 if fits else 0
    if best[1] - best[0] < least:
        return None
    values = np.array([[_value(cell, comma) for cell in row] for row in rows[best[0] : best[1]]])
    around = [*lines[: best[0]], *lines[best[1] :]]
    return TextTable(values, "\n".join(around)[:MOST_WORDS], (separator,))


def _cells(line: str, separator: str) -> list[str]:
    cells = line.split() if separator == " " else [cell.strip().strip('"') for cell in line.split(separator)]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _numeric(row: Sequence[str], comma: bool) -> bool:
    """Whether all cells but a first label are numbers or blank, and a number is among them."""
    return all(_is_number(cell, comma) for cell in row[1:]) and any(cell for cell in row[1:])


def _is_number(cell: str, comma: bool) -> bool:
    if comma and "." in cell:
        return False
    return cell.lower() in BLANK or NUMBER.match(cell.replace(",", ".") if comma else cell) is not None


def _value(cell: str, comma: bool) -> float:
    if not _is_number(cell, comma) or cell.lower() in BLANK:
        return float("nan")
    return float((cell.replace(",", ".") if comma else cell).replace("−", "-"))


def _without_counts(values: Floats) -> tuple[Floats, str]:
    """The table without a first row or column that only counts, or labels, the others."""
    cut = []
    if _counts(values[:, 0]) or not np.isfinite(values[:, 0]).any():
        values, cut = values[:, 1:], ["column"]
    row = values[0]
    if _counts(row):
        values, cut = values[1:], [*cut, "row"]
    return values, f"the first {' and the first '.join(cut)} number the others and were left out" if cut else ""


def _counts(line: Floats) -> bool:
    known = line[1:] if not np.isfinite(line[0]) else line
    return bool(np.isfinite(known).all() and (np.diff(known) == 1).all() and known[0] in (0, 1, 2))


def _torn(values: Floats) -> bool:
    """Whether every second column looks like the digits behind a comma of the column before it."""
    if values.shape[1] % 2 or not np.isfinite(values).all() or (values != np.round(values)).any():
        return False
    whole, digits = values[:, ::2], values[:, 1::2]
    one_length = len({len(str(int(top))) for top in digits.max(axis=0)}) == 1
    return bool((digits >= 0).all() and one_length and digits.std() > 3 * np.abs(np.diff(whole, axis=1)).mean() + 1)
