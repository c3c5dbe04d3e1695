"""Whether the record is whole: the journal's chain, its triggers, the rows it tells of, and the files."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from django.apps import apps
from django.db import connection

from kilter.store.journal import find_break, head, plain
from kilter.store.models import Attachment, JournalRow
from kilter.store.models.append_only import AppendOnly
from kilter.store.triggers import protected_tables, unprotected
from kilter.store.trouble import plainly
from kilter.store.verbs.files import file_store

PIECE = 2000


@dataclass(frozen=True)
class Checked:
    """
    What a check found.

    Args:
        entries: Entries of the journal that were looked at.
        head: Hash of the last one; compare it with what was written down elsewhere, for a journal can be cut short.
        rows: Rows that the journal tells of and that were compared.
        files: Files that were compared.
        wrong: What is not as it should be, one sentence each.
    """

    entries: int
    head: str
    rows: int
    files: int
    wrong: tuple[str, ...]


def check(*, files: bool = True, told: Callable[[str], None] = lambda _: None) -> Checked:
    """
    Looks the whole record over.

    Args:
        files: Read every file too.
        told: Hears how far it is.

    Raises:
        BadInput: The database cannot be read at all.
    """
    with plainly("Cannot check the record"):
        wrong = [f"the table {one} lost its triggers" for one in unprotected(connection, protected_tables())]
        if connection.vendor == "sqlite":
            wrong += [f"the database file: {line}" for line in _integrity() if line != "ok"]
        told("the journal")
        break_ = find_break()
        wrong += [f"journal: {break_.words}"] if break_ else []
        told("the rows the journal tells of")
        rows, altered = _compare_rows()
        wrong += altered
        known = list(Attachment.objects.order_by("pk").values_list("sha256", "size"))
        told("the files")
        wrong += list(file_store().wrong(iter(known))) if files else []
        number, last = head()
    return Checked(number, last, rows, len(known) if files else 0, tuple(wrong))


def _integrity() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        return [str(row[0]) for row in cursor.fetchall()]


def _compare_rows() -> tuple[int, list[str]]:
    """Every row that was written once is told by the journal, and still is as it was told."""
    models = {one._meta.model_name: one for one in apps.get_app_config("store").get_models()
              if issubclass(one, AppendOnly)}  # fmt: skip
    told: dict[tuple[str, int], tuple[int, dict[str, object]]] = {}
    for number, after in JournalRow.objects.order_by("number").values_list("number", "after").iterator(PIECE):
        for name, fields in _rows_of(after):
            table, _, key = name.partition(" ")
            told[table, int(key)] = (number, fields)
    wrong, compared = [], 0
    for table, model in models.items():
        for row in model._default_manager.order_by("pk").iterator(PIECE):
            number, fields = told.pop((table, row.pk), (0, {}))
            compared += 1
            if not number:
                wrong.append(f"{table} {row.pk} is not in the journal: somebody put it in")
            elif json.loads(json.dumps(plain(row))) != fields:
                now = json.loads(json.dumps(plain(row)))
                names = [name for name, value in now.items() if value != fields.get(name)]
                wrong.append(f"{table} {row.pk} was altered after journal entry {number}: {', '.join(names)}")
    wrong += [f"{table} {key} is gone; journal entry {number} tells of it" for (table, key), (number, _) in told.items()
              if table in models]  # fmt: skip
    return compared, wrong


def _rows_of(after: str) -> Iterator[tuple[str, dict[str, object]]]:
    try:
        rows = json.loads(after or "{}").get("rows", {})
    except ValueError:
        return  # the chain tells that this entry was altered
    yield from rows.items()
