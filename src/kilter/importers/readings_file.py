"""Readings files: CSV or TOML that a person can type, one reading a line; see docs/board-file.md for their form."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.known_names import nearest
from kilter.importers.reading_lines import COLUMNS, reading_of
from kilter.importers.text_files import read_text
from kilter.importers.toml_tables import Table, read_toml
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading

DELIMITERS = (",", ";", "\t")
NEEDED = ("point", "value")

Row = tuple[str, dict[str, str]]
"""The place of a line and its words by column."""


def read_readings(path: Path, board: Board) -> tuple[Reading, ...]:
    """
    The readings of a file, in their order.

    Args:
        path: A .toml file with [[reading]] tables; anything else is CSV with ',', ';' or tab between columns.
        board: Whose points, parts and states the lines name.

    Raises:
        BadInput: A line cannot be understood; the message has file and line.
    """
    rows = _toml_rows(path) if path.suffix.lower() == ".toml" else _csv_rows(path)
    return tuple(reading_of(words, place, board, f"Cannot read the readings {path.name}") for place, words in rows)


def _csv_rows(path: Path) -> Iterator[Row]:
    doing = f"Cannot read the readings {path.name}"
    lines = read_text(path, "the readings").splitlines()
    numbered = [(number, line) for number, line in enumerate(lines, 1) if line.strip() and line.lstrip()[0] != "#"]
    if not numbered:
        raise BadInput(doing, f"no line in {path.name} line 1", "a header line with point and value, then readings",
                       "Write the header 'point,quantity,value,state'.")  # fmt: skip
    (first, head), rest = numbered[0], numbered[1:]
    delimiter, header = _header(head, f"{path.name} line {first}", doing)
    for number, line in rest:
        place = f"{path.name} line {number}"
        words = _split(line, delimiter, place, doing)
        if len(words) > len(header) and any(words[len(header) :]):
            raise BadInput(doing, f"{len(words)} columns under {len(header)} headings at {place}",
                           "a word for each heading; a decimal comma in quotes, or ';' between columns",
                           "Put the value in quotes or remove the extra column.")  # fmt: skip
        if any(words):
            yield place, dict(zip(header, words, strict=False))


def _header(line: str, place: str, doing: str) -> tuple[str, list[str]]:
    """The delimiter and the column names."""
    for delimiter in DELIMITERS:
        header = [word.lower() for word in _split(line, delimiter, place, doing)]
        if all(word in header for word in NEEDED):
            _check_columns(header, place, doing)
            return delimiter, header
    raise BadInput(doing, f"the header '{line.strip()[:60]}' at {place}",
                   f"{' and '.join(NEEDED)}, and perhaps {', '.join(c for c in COLUMNS if c not in NEEDED)}",
                   "Write a header line with at least point and value, as 'point,quantity,value'.")  # fmt: skip


def _check_columns(header: list[str], place: str, doing: str) -> None:
    for at, word in enumerate(header):
        if word and word not in COLUMNS:
            near = nearest(word, COLUMNS)
            raise BadInput(doing, f"the column '{word}' at {place}", ", ".join(COLUMNS),
                           f"Did you mean '{near[0]}'?" if near else "Remove the column.")  # fmt: skip
        if word and word in header[:at]:
            raise BadInput(doing, f"the column '{word}' twice at {place}", "each column once", "Remove one of them.")


def _split(line: str, delimiter: str, place: str, doing: str) -> list[str]:
    try:
        rows = list(csv.reader([line], delimiter=delimiter, strict=True, skipinitialspace=True))
    except csv.Error as error:
        raise BadInput(doing, f"a line that cannot be split ({error}) at {place}", "quotes in pairs within one line",
                       "Correct the quotes.") from None  # fmt: skip
    return [word.strip() for word in rows[0]] if rows else []


def _toml_rows(path: Path) -> Iterator[Row]:
    file = read_toml(path, "the readings")
    for row in file.rows("reading"):
        yield row.place, _toml_words(row)
    if not file.values.get("reading"):
        raise file.bad("reading", None, "one [[reading]] table for each reading", "Write [[reading]] tables.")
    file.done()


def _toml_words(row: Table) -> dict[str, str]:
    words = {}
    for key in COLUMNS:
        value = row.take(key)
        if isinstance(value, (dict, list)):
            raise row.bad(key, value, "a text or a number", "Write one value.")
        if value is not None:
            words[key] = str(value)
    row.done()
    return words
