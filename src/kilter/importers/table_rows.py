"""Rows of a table that a person gave, from CSV or a workbook (.xlsx): texts with the place where each row stands."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from zipfile import BadZipFile, ZipFile

from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput, NotAvailable
from kilter.measure.tables import table

DELIMITERS = (",", ";", "\t")
FORMULA = ("=", "+", "-", "@", "\t", "|", "%", "＝", "＋", "－", "＠", "'")
"""Before these, at the start of a cell of CSV, an apostrophe is no letter but a guard."""


def rows_of(path: Path, what: str) -> Iterator[tuple[str, list[str]]]:
    """
    The rows that hold something, each with its place such as 'line 3' or 'row 3'.

    Args:
        path: A workbook by its ending .xlsx (first sheet), else CSV with ',', ';' or tab between columns. Lines of CSV
            before the first row that begin with '#' are left out.
        what: The list, for messages: 'the list of objects'.

    Raises:
        BadInput: It is not there, no table, or too large.
        NotAvailable: A workbook, and the reader of workbooks is not installed.
    """
    doing = f"Cannot read {what} {path.name}"
    most = int(table("handing_over")["table"]["most_rows"])
    rows = _sheet(path, doing) if path.suffix.lower() == ".xlsx" else _text(path, what, doing)
    for count, (place, row) in enumerate(rows, 1):
        if count > most:
            raise BadInput(doing, f"more than {most:,} rows", f"up to {most:,} rows", "Divide the list.")
        if any(row):
            yield place, row


def _text(path: Path, what: str, doing: str) -> Iterator[tuple[str, list[str]]]:
    text = read_text(path, what)
    first = next((line for line in text.splitlines() if line.strip() and not line.startswith("#")), "")
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(text.splitlines(keepends=True), delimiter=delimiter, strict=True)
    line, begun = 1, False
    try:
        for row in reader:
            begun = begun or bool(row and not row[0].startswith("#"))
            if begun:
                yield f"line {line}", [_unguarded(cell.strip()) for cell in row]
            line = reader.line_num + 1
    except csv.Error as error:
        raise BadInput(doing, f"line {line}, which is no CSV ({error})", "columns with ',', ';' or tab between them",
                       "Close the quotes.") from None  # fmt: skip


def _unguarded(cell: str) -> str:
    """
    A cell without the apostrophe that keeps a spreadsheet program from running it.

    >>> _unguarded("'=1+1"), _unguarded("''s"), _unguarded("'tis")
    ('=1+1', "'s", "'tis")
    """
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(FORMULA) else cell


def _sheet(path: Path, doing: str) -> Iterator[tuple[str, list[str]]]:
    try:
        reader = import_module("openpyxl")
    except ImportError:
        raise NotAvailable(doing, "no reader of workbooks on this machine", "the extra 'report', or a CSV file",
                           "Install it (pip install 'kilter[report]'), or save as CSV.") from None  # fmt: skip
    _check_size(path, doing)
    try:
        book = reader.load_workbook(path, read_only=True, data_only=True, keep_links=False)
        for at, row in enumerate(book.worksheets[0].iter_rows(values_only=True), 1):
            yield f"row {at}", ["" if cell is None else _cell(cell) for cell in row]
        book.close()
    except (OSError, BadZipFile, KeyError, ValueError, IndexError, TypeError, SyntaxError) as error:
        reason = getattr(error, "strerror", None) or "no workbook that can be read"
        raise BadInput(doing, reason, "a workbook in the .xlsx form", "Save it again as .xlsx or as CSV.") from None


def _check_size(path: Path, doing: str) -> None:
    """A small file may unpack to one that fills the memory."""
    most = int(table("handing_over")["table"]["most_bytes"])
    try:
        with ZipFile(path) as packed:
            size = sum(one.file_size for one in packed.infolist())
    except (OSError, BadZipFile) as error:
        reason = getattr(error, "strerror", None) or "no workbook that can be read"
        raise BadInput(doing, reason, "a workbook in the .xlsx form", "Save it again as .xlsx or as CSV.") from None
    if size > most:
        raise BadInput(doing, f"{size:,} bytes once unpacked", f"up to {most:,} bytes", "Divide the list.")


def _cell(value: object) -> str:
    """What a cell says; a whole number without a decimal point, as it is seen in the sheet."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()
