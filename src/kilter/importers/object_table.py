"""
Lists of objects: CSV or a workbook, one object a row. Reading changes nothing; it tells what would be new, what other.

Columns, in any order: `number` and `name` (needed), `kind`, `made`, `owner`, `accession`, `location`, `state`,
`limits`, `board`. A row that cannot be used is named with what is wrong, and the rest is read. Read twice, nothing is
new the second time: rows are told apart by number.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

from kilter.importers.known_names import nearest
from kilter.importers.table_rows import rows_of
from kilter.measure.errors import BadInput
from kilter.planning.accession import accession_states
from kilter.records.dossier import ObjectFields

COLUMNS = tuple(one.name for one in fields(ObjectFields))
NEEDED = ("number", "name")
LONGEST = {"number": 60, "name": 200, "kind": 120, "made": 60, "owner": 200, "accession": 30, "location": 200,
           "state": 20, "limits": 10_000, "board": 60}  # fmt: skip
"""Characters that the record keeps."""


@dataclass(frozen=True)
class ReadRow:
    """One object with the place of its row."""

    place: str
    fields: ObjectFields


@dataclass(frozen=True)
class ObjectTable:
    """Rows that were read, in their order, and the errors of those that could not be, each in its four parts."""

    rows: tuple[ReadRow, ...]
    errors: tuple[BadInput, ...]


@dataclass(frozen=True)
class Change:
    """
    What a row would do.

    Args:
        row: The row.
        verb: 'new', 'other' or 'same'.
        other: Of an object that is known: field to what is known and what the row says. An empty cell says nothing.
    """

    row: ReadRow
    verb: str
    other: Mapping[str, tuple[str, str]]


def read_objects(path: Path) -> ObjectTable:
    """
    The objects of a list.

    Raises:
        BadInput: The list as a whole cannot be used: absent, no table, a header that is not known.
        NotAvailable: A workbook, and the reader of workbooks is not installed.
    """
    numbered = rows_of(path, "the list of objects")
    place, head = next(numbered, ("line 1", []))
    header = _header([word.strip().lower() for word in head], place, path.name)
    read: list[ReadRow] = []
    errors: list[BadInput] = []
    seen: dict[str, str] = {}
    for place, row in numbered:
        words = {name: cell for name, cell in zip(header, row, strict=False) if name}
        try:
            _check(words, place, path.name, seen, spare=row[len(header) :])
        except BadInput as error:
            errors.append(error)
            continue
        seen[words["number"].casefold()] = place
        read.append(ReadRow(place, ObjectFields(**words)))
    return ObjectTable(tuple(read), tuple(errors))


def changes(rows: tuple[ReadRow, ...], known: Mapping[str, ObjectFields]) -> tuple[Change, ...]:
    """
    What the rows would do to a collection; nothing is done.

    Args:
        rows: Of a list.
        known: Objects of the collection by number.
    """
    found = []
    for row in rows:
        before = known.get(row.fields.number)
        if before is None:
            found.append(Change(row, "new", {}))
            continue
        pairs = {name: (getattr(before, name), getattr(row.fields, name)) for name in COLUMNS}
        other = {name: pair for name, pair in pairs.items() if pair[1] and pair[0] != pair[1]}
        found.append(Change(row, "other" if other else "same", other))
    return tuple(found)


def _header(words: list[str], place: str, name: str) -> list[str]:
    doing = f"Cannot read the list of objects {name}"
    known = [word for word in words if word]
    for at, word in enumerate(known):
        if word not in COLUMNS or word in known[:at]:
            near = nearest(word, COLUMNS)
            twice = " twice" if word in known[:at] else ""
            raise BadInput(doing, f"the column '{word[:40]}'{twice} at {place}", ", ".join(COLUMNS) + ", each once",
                           f"Did you mean '{near[0]}'?" if near and not twice else "Remove the column.")  # fmt: skip
    missing = [one for one in NEEDED if one not in known]
    if missing:
        others = ", ".join(one for one in COLUMNS if one not in NEEDED)
        raise BadInput(doing, f"no column '{missing[0]}' at {place}",
                       f"a header with {' and '.join(NEEDED)}, and perhaps {others}",
                       "Write a header line.")  # fmt: skip
    return words


def _check(words: Mapping[str, str], place: str, name: str, seen: Mapping[str, str], *, spare: list[str]) -> None:
    doing = f"Cannot take the object of {place} of {name}"
    if any(spare):
        raise BadInput(doing, f"'{next(filter(None, spare))[:40]}' beyond the last column of the header",
                       "as many cells as the header has", "Put cells that hold the delimiter in quotes.")  # fmt: skip
    for column in NEEDED:
        if not words.get(column):
            raise BadInput(doing, f"no {column}", "a number and a name in every row", f"Write its {column}.")
    for column, cell in words.items():
        if len(cell) > LONGEST[column] or any(ord(sign) < 32 and sign not in "\n\t" for sign in cell):
            raise BadInput(doing, f"{len(cell)} characters under '{column}', or a control character among them",
                           f"up to {LONGEST[column]} characters of text", "Shorten the cell.")  # fmt: skip
    if any(sign in words["number"] for sign in "\n\t"):
        raise BadInput(doing, "a number on more than one line", "a number on one line", "Write it on one line.")
    earlier = seen.get(words["number"].casefold())
    if earlier:
        raise BadInput(doing, f"the number '{words['number']}' again, which stands at {earlier}", "every number once",
                       "Remove one of the rows.")  # fmt: skip
    state = words.get("accession", "")
    if state and state not in accession_states():
        near = nearest(state, accession_states())
        raise BadInput(doing, f"the accession state '{state[:40]}'", ", ".join(accession_states()) + ", or nothing",
                       f"Did you mean '{near[0]}'?" if near else "Use one of these words.")  # fmt: skip
