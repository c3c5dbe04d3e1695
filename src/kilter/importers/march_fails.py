"""Fail lists of march tests: CSV with address, expected and read, and perhaps the number of the element."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput
from kilter.signals.memory.fail_entries import Fails
from kilter.signals.memory.figures import number

NEEDED = ("address", "expected", "read")
COLUMNS = (*NEEDED, "element")


def read_fails(path: Path) -> Fails:
    """
    The fails of a file; one that holds only a header line is a test that passed.

    Numbers are decimal, or hexadecimal with 0x, $ or a final h.

    Raises:
        BadInput: Not readable, a column missing, a word that is no number; the message has file and line.
    """
    doing = f"Cannot read the fail list {path.name}"
    lines = read_text(path, "the fail list").splitlines()
    rows = [(at, line) for at, line in enumerate(lines, 1) if line.strip() and line.lstrip()[0] != "#"]
    if len(rows) > number("largest_fails"):
        raise BadInput(doing, f"{len(rows)} lines", f"up to {number('largest_fails'):g}", "Shorten the list.")
    header, delimiter = _header(rows[0][1] if rows else "", doing, path.name)
    columns = [header.index(key) for key in COLUMNS if key in header]
    split = csv.reader((line for _, line in rows[1:]), delimiter=delimiter)
    numbers = [
        _numbers(words, columns, doing, f"{path.name} line {at}")
        for (at, _), words in zip(rows[1:], split, strict=False)
    ]
    table = np.array(numbers, dtype=np.int64).reshape(-1, len(columns))
    return Fails(table[:, 0], table[:, 1], table[:, 2], table[:, 3] if len(columns) > len(NEEDED) else None)


def _header(line: str, doing: str, name: str) -> tuple[list[str], str]:
    for delimiter in (",", ";", "\t"):
        header = [word.strip().lower() for word in line.split(delimiter)]
        if all(key in header for key in NEEDED) and len(set(header)) == len(header):
            return header, delimiter
    raise BadInput(doing, f"the header '{line.strip()[:60]}' in {name}", "address,expected,read and perhaps element",
                   "Write this header line above the fails.")  # fmt: skip


def _numbers(words: list[str], columns: list[int], doing: str, place: str) -> list[int]:
    if len(words) <= max(columns):
        raise BadInput(doing, f"{len(words)} words at {place}", "a number for each heading", "Complete the line.")
    return [_number(words[at].strip(), doing, place) for at in columns]


def _number(word: str, doing: str, place: str) -> int:
    low = word.lower()
    try:
        if low.startswith(("0x", "$")):
            value = int(low.lstrip("$").removeprefix("0x"), 16)
        else:
            value = int(low[:-1], 16) if low.endswith("h") else int(low)
    except ValueError:
        value = -1
    if not 0 <= value < 1 << 40:
        raise BadInput(doing, f"'{word[:30]}' at {place}", "a whole number such as 1023, 0x3FF, $3FF or 3FFh",
                       "Correct the number.")  # fmt: skip
    return value
