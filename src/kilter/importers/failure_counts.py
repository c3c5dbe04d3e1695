"""Failure counts that a person typed or exported from a sheet: kind, age, parts, objects and what had failed."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping
from pathlib import Path

from kilter.diagnose.learned_odds_counts import NO_AGE, Count, band_of, bands, checked
from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput

COLUMNS = ("kind", "age", "parts", "objects", "failures")


def read_counts(path: Path) -> tuple[tuple[Count, ...], str]:
    """
    The counts of a CSV file, and the SHA-256 of its text.

    Columns: kind; age in years, an age band, or nothing; parts looked at; objects they were in; failures as
    'low:12 leak:3 unknown:2'.

    Raises:
        BadInput: It cannot be read, or a line is no count; the message names the line.
    """
    text = read_text(path, "the counts file")
    rows = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    found = set(rows.fieldnames or ())
    doing = f"Cannot read the counts file {path.name}"
    if found != set(COLUMNS):
        raise BadInput(doing, f"the columns {', '.join(sorted(found)) or 'none'}", ", ".join(COLUMNS),
                       "Give the file these columns, with their names in the first line.")  # fmt: skip
    counts = tuple(_count(row, f"{doing} line {rows.line_num}") for row in rows)
    if not counts:
        raise BadInput(doing, "no line of counts", "one line for each kind and age", "Add the counts.")
    return counts, hashlib.sha256(text.encode()).hexdigest()


def _count(row: Mapping[str | None, str | None], doing: str) -> Count:
    if None in row or None in row.values():
        raise BadInput(doing, "too many or too few columns", ", ".join(COLUMNS), "Correct the line.")
    words = {str(key): (value or "").strip() for key, value in row.items()}
    failures: dict[str, int] = {}
    for word in _split(words["failures"]):
        family, colon, number = word.rpartition(":")
        if not colon or family in failures:
            raise BadInput(doing, f"the failures '{words['failures']}'", "each mode once, such as 'low:12 leak:3'",
                           "Write MODE:NUMBER with spaces between.")  # fmt: skip
        failures[family] = _whole(number, doing)
    parts, objects = _whole(words["parts"], doing), _whole(words["objects"], doing)
    return checked(Count(words["kind"], _band(words["age"], doing), parts, failures, objects), doing)


def _split(words: str) -> list[str]:
    """
    The words, of which one may hold a space before its star.

    >>> _split("low:12 open *:3")
    ['low:12', 'open *:3']
    """
    return [word.replace("\0", " ") for word in words.replace(" *", "\0*").split()]


def _band(word: str, doing: str) -> str:
    if word in (*bands(), NO_AGE):
        return word
    try:
        return band_of(float(word))
    except ValueError:
        raise BadInput(doing, f"the age '{word}'", f"years, one of {', '.join(bands())}, or nothing",
                       "Correct the line.") from None  # fmt: skip


def _whole(word: str, doing: str) -> int:
    if not (word.isascii() and word.isdigit()):
        raise BadInput(doing, f"the number '{word}'", "a whole number from 0 on", "Correct the line.")
    return int(word)
