"""
Stock lists: CSV or a spreadsheet (.xlsx), one lot a row, with every row that cannot be used named and the rest read.

Columns, in any order: `part` (needed), `count` (1), `condition`, `tested` (yes or no), `good` (a chance that overrides
both), `lot` (drawer or box; the row's place where it is left out), `words`.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from zipfile import BadZipFile

from kilter.importers.known_names import nearest
from kilter.importers.text_files import LARGEST, read_text
from kilter.measure.errors import BadInput, NotAvailable
from kilter.planning.allocation.problem import Lot
from kilter.planning.part_types import type_name
from kilter.planning.stock import chance_good, conditions

COLUMNS = ("lot", "part", "count", "condition", "tested", "good", "words")
DELIMITERS = (",", ";", "\t")
YES, NO = ("yes", "y", "1", "true", "ja", "x"), ("no", "n", "0", "false", "nein", "")
MOST_ROWS, MOST_PIECES = 200_000, 1_000_000
EXTRA = "report"


@dataclass(frozen=True)
class RowProblem:
    """A row that was left out, and why, as sentence parts: place, what was found, what is allowed."""

    place: str
    found: str
    allowed: str


@dataclass(frozen=True)
class StockTable:
    """Lots that were read, in their order, and rows that could not be."""

    lots: tuple[Lot, ...]
    problems: tuple[RowProblem, ...]


def read_stock(path: Path) -> StockTable:
    """
    The lots of a stock list.

    Raises:
        BadInput: The file as a whole cannot be used: absent, no header with 'part', no table.
        NotAvailable: A spreadsheet, and the reader of spreadsheets is not installed.
    """
    doing = f"Cannot read the stock list {path.name}"
    rows = _sheet_rows(path, doing) if path.suffix.lower() == ".xlsx" else _text_rows(path, doing)
    numbered = iter(rows)
    place, head = next(((p, r) for p, r in numbered if any(r) and not r[0].startswith("#")), ("line 1", []))
    header = _header([word.strip().lower() for word in head], place, doing)
    lots: list[Lot] = []
    problems: list[RowProblem] = []
    seen: dict[str, str] = {}
    for place, row in numbered:
        if not any(row) or row[0].startswith("#"):
            continue
        words = {name: cell.strip() for name, cell in zip(header, row, strict=False) if name}
        key = words.get("lot") or place
        found = _lot(key, words, place)
        if isinstance(found, Lot) and key in seen:
            found = RowProblem(place, f"the lot '{key}' again, which stands in {seen[key]}", "every lot once")
        if isinstance(found, Lot):
            seen[key] = place
            lots.append(found)
        else:
            problems.append(found)
    return StockTable(tuple(lots), tuple(problems))


def _lot(key: str, words: dict[str, str], place: str) -> Lot | RowProblem:
    part = type_name(words.get("part", ""))
    if not part:
        return RowProblem(place, "no part", "what it is, such as 74LS00 or 'resistor 4k7'")
    count = words.get("count", "") or "1"
    if not (count.isdecimal() and 0 <= int(count[:9]) <= MOST_PIECES):
        return RowProblem(place, f"the count '{count[:40]}'", f"a whole number from 0 to {MOST_PIECES}")
    tested = words.get("tested", "").lower()
    if tested not in YES + NO:
        return RowProblem(place, f"tested '{tested[:40]}'", "yes, no or nothing")
    condition = words.get("condition", "").lower()
    if condition and condition not in conditions():
        near = nearest(condition, conditions())
        return RowProblem(place, f"the condition '{condition[:40]}'",
                          ", ".join(conditions()) + (f"; perhaps '{near[0]}'" if near else ""))  # fmt: skip
    good: float | None = chance_good(condition, tested=tested in YES)
    if words.get("good"):
        good = _share(words["good"])
    if good is None:
        return RowProblem(place, f"the chance '{words['good'][:40]}'", "a share from 0 to 1, or from 0 % to 100 %")
    state = f"{condition or 'condition not known'}, {'tested' if tested in YES else 'not tested'}"
    told = "; ".join(one for one in (words.get("words", ""), state) if one)
    return Lot(key, part, int(count), good, told)


def _share(words: str) -> float | None:
    text = words.replace(",", ".").strip()
    try:
        value = float(text.removesuffix("%")) / (100.0 if text.endswith("%") else 1.0)
    except ValueError:
        return None
    return value if 0.0 <= value <= 1.0 else None


def _header(words: Sequence[str], place: str, doing: str) -> list[str]:
    known = [word for word in words if word]
    for at, word in enumerate(known):
        if word not in COLUMNS or word in known[:at]:
            near = nearest(word, COLUMNS)
            twice = " twice" if word in known[:at] else ""
            raise BadInput(doing, f"the column '{word[:40]}'{twice} at {place}", ", ".join(COLUMNS) + ", each once",
                           f"Did you mean '{near[0]}'?" if near and not twice else "Remove the column.")  # fmt: skip
    if "part" not in known:
        raise BadInput(doing, f"the header '{', '.join(known)[:60]}' at {place}", "a column 'part', and perhaps "
                       + ", ".join(one for one in COLUMNS if one != "part"), "Write a header line.")  # fmt: skip
    return list(words)


def _text_rows(path: Path, doing: str) -> Iterator[tuple[str, list[str]]]:
    lines = read_text(path, "the stock list").splitlines()
    first = next((line for line in lines if line.strip() and not line.lstrip().startswith("#")), "")
    delimiter = max(DELIMITERS, key=first.count)
    try:
        for at, row in enumerate(csv.reader(lines, delimiter=delimiter, strict=True), 1):
            yield f"line {at}", row
    except csv.Error as error:
        raise BadInput(doing, f"a line that is no CSV ({error})", "columns with ',', ';' or tab between them",
                       "Close the quotes.") from None  # fmt: skip


def _sheet_rows(path: Path, doing: str) -> Iterable[tuple[str, list[str]]]:
    try:
        reader = import_module("openpyxl")
    except ImportError:
        raise NotAvailable(doing, "no reader of spreadsheets on this machine", f"the extra '{EXTRA}', or a CSV file",
                           f"Install it (pip install 'kilter[{EXTRA}]'), or save as CSV.") from None  # fmt: skip
    try:
        if path.stat().st_size > LARGEST:
            raise BadInput(doing, f"{path.stat().st_size} bytes", f"up to {LARGEST} bytes", "Divide the list.")
        book = reader.load_workbook(path, read_only=True, data_only=True)
        sheet = book.worksheets[0]
        rows = [
            (f"row {at}", ["" if cell is None else _cell(cell) for cell in row])
            for at, row in enumerate(sheet.iter_rows(values_only=True, max_row=MOST_ROWS + 1), 1)
        ]
        book.close()
    except (OSError, BadZipFile, KeyError, ValueError, IndexError, TypeError, SyntaxError) as error:
        reason = getattr(error, "strerror", None) or "no spreadsheet that can be read"
        raise BadInput(doing, f"'{path.name}': {reason}", "a spreadsheet in the .xlsx form",
                       "Save it again as .xlsx or as CSV.") from None  # fmt: skip
    if len(rows) > MOST_ROWS:
        raise BadInput(doing, f"more than {MOST_ROWS} rows", f"up to {MOST_ROWS} rows", "Divide the list.")
    return rows


def _cell(value: object) -> str:
    """What a cell says; a whole number without a decimal point, as it is seen in the sheet."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value == int(value):
        return str(int(value))
    return str(value)
