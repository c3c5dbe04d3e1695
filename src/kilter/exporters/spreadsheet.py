"""
Objects and readings as CSV and as a workbook (.xlsx), in which no cell is run as a formula.

CSV has no types: a spreadsheet program runs '=1+1' and eats the noughts of '00123'. The workbook holds text as text, so
it is the better choice; in CSV an apostrophe is put before words that begin like a formula, and readers take it off.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import astuple
from dataclasses import fields as fields_of
from typing import Any

from kilter.exporters.extras import extra
from kilter.exporters.harmless import clean
from kilter.exporters.report_words import value
from kilter.measure.tables import table
from kilter.records.dossier import Dossier, ObjectFields

Cell = str | int | float
OBJECT_HEADS = tuple(one.name for one in fields_of(ObjectFields))
READING_HEADS = ("object", "visit", "number", "point", "quantity", "read", "value", "unit", "uncertainty", "instrument",
                 "state", "at", "who", "doubtful", "standing", "note")  # fmt: skip
RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "＝", "＋", "－", "＠", "'")
"""What a cell must not begin with, full-width forms among them: a spreadsheet may run it. An apostrophe is doubled."""


READ_OTHERWISE = (*RISKY, *"0123456789")
"""What a spreadsheet may take for a formula, a number or a date once its cell is edited."""


def object_rows(objects: Iterable[ObjectFields]) -> list[tuple[Cell, ...]]:
    """Rows of a list of objects, under OBJECT_HEADS."""
    return [astuple(one) for one in objects]


def reading_rows(dossiers: Iterable[Dossier]) -> list[tuple[Cell, ...]]:
    """Every reading of every dossier, under READING_HEADS; `value` and `uncertainty` in `unit`, empty for a word."""
    return [
        (dossier.object.number, visit.number, one.number, one.point, one.quantity, value(one),
         "" if one.value is None else one.value, one.unit, one.uncertainty or "", one.instrument, one.state, one.at,
         dossier.shown(one.who), "yes" if one.doubtful else "no", "yes" if one.standing else "no", one.note)
        for dossier in dossiers
        for visit, one in dossier.readings()
    ]  # fmt: skip


def csv_text(heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """
    Rows as CSV (RFC 4180). Numbers stay numbers; an infinite one is 'over limit'.

    >>> csv_text(["a", "b"], [["=1+1", -0.5]])
    "a,b\\r\\n'=1+1,-0.5\\r\\n"
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([_tame(cell) for cell in row] for row in rows)
    return text.getvalue()


def csv_bytes(heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """The same in UTF-8 with the mark by which spreadsheet programs know it."""
    return csv_text(heads, rows).encode("utf-8-sig")


def workbook(sheet: str, heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """
    Rows as a workbook of one sheet. Words are text cells, whatever they begin with.

    Raises:
        NotAvailable: The writer of workbooks is not installed.
    """
    doing = "Cannot write a workbook"
    library = extra("openpyxl", doing)
    styled, bold = extra("openpyxl.cell", doing).WriteOnlyCell, extra("openpyxl.styles", doing).Font(bold=True)
    book = library.Workbook(write_only=True)
    page = book.create_sheet(sheet)
    page.freeze_panes = "A2"
    page.append([_cell(styled, page, one, bold) for one in heads])
    for row in rows:
        page.append([_cell(styled, page, one) for one in row])
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def _cell(styled: Any, page: Any, content: Cell, font: Any = None) -> Any:
    told = _plain(content)
    made = styled(page, value=_short(told) if isinstance(told, str) else told)
    if isinstance(told, str):
        made.data_type = "s"
        if told.lstrip(" ").startswith(READ_OTHERWISE):
            made.quotePrefix = True  # stays text when somebody edits the cell
    if font is not None:
        made.font = font
    return made


def _short(words: str) -> str:
    """What a cell can hold; what is cut is said, since the CSV has it whole."""
    most = int(table("handing_over")["table"]["cell_characters"])
    if len(words) <= most:
        return words
    end = f" [cut here: {len(words):,} characters; the CSV has them]"
    return words[: most - len(end)] + end


def _plain(content: Cell) -> Cell:
    if isinstance(content, float) and not -1.8e308 < content < 1.8e308:
        return "over limit" if content == content else "unknown"
    return clean(content) if isinstance(content, str) else content


def _tame(content: Cell) -> Cell:
    told = _plain(content)
    return f"'{told}" if isinstance(told, str) and told.lstrip(" ").startswith(RISKY) else told
