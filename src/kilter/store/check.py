"""Whether the record is whole: the journal's chain, its triggers, the rows it tells of, and the files."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import connections, models

from kilter.store.journal import find_break, head, plain
from kilter.store.models import Attachment, CollectionObject, JournalRow, ObjectEdition, Person
from kilter.store.models.append_only import AppendOnly
from kilter.store.models.collection import EDITED
from kilter.store.triggers import protected_tables, unprotected
from kilter.store.trouble import plainly
from kilter.store.verbs.files import file_store

PIECE = 2000
MARK = 16
"""Bytes of a digest that stands for a row while rows are compared, so that a million of them fit an old laptop."""


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


def check(*, files: bool = True, told: Callable[[str], None] = lambda _: None, using: str = "default") -> Checked:
    """
    Looks the whole record over.

    Args:
        files: Read every file too.
        told: Hears how far it is.
        using: Which of Django's databases.

    Raises:
        BadInput: The database cannot be read at all.
    """
    connection = connections[using]
    with plainly("Cannot check the record"):
        wrong = [f"the table {one} lost its triggers" for one in unprotected(connection, protected_tables())]
        if connection.vendor == "sqlite":
            wrong += [f"the database file: {line}" for line in _integrity(connection) if line != "ok"]
        told("the journal")
        break_ = find_break(using)
        wrong += [f"journal: {break_.words}"] if break_ else []
        told("the rows the journal tells of")
        rows, altered = _compare_rows(using)
        wrong += [*altered, *_objects(using), *_people(using)]
        known = list(Attachment.objects.using(using).order_by("pk").values_list("sha256", "size"))
        if files:
            told("the files")
            wrong += file_store().wrong(iter(known))
        number, last = head(using)
    return Checked(number, last, rows, len(known) if files else 0, tuple(wrong))


def _integrity(connection: Any) -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        return [str(row[0]) for row in cursor.fetchall()]


def _compare_rows(using: str) -> tuple[int, list[str]]:
    """Every row that was written once is told by the journal, and still is as it was told."""
    told: dict[str, dict[int, bytes]] = {
        str(one._meta.model_name): {}
        for one in apps.get_app_config("store").get_models() if issubclass(one, AppendOnly)
    }  # fmt: skip
    entries = JournalRow.objects.using(using).order_by("number").values_list("number", "after")
    for number, after in entries.iterator(PIECE):
        for table, key, fields in _rows_of(after):
            if table in told:
                told[table][key] = number.to_bytes(8) + _mark(fields)
    wrong, compared = [], 0
    for table, known in told.items():
        for row in apps.get_model("store", table)._base_manager.using(using).order_by("pk").iterator(PIECE):
            compared += 1
            mark, fields = known.pop(row.pk, None), json.loads(json.dumps(plain(row)))
            if mark is None:
                wrong.append(f"{table} {row.pk} is not in the journal: somebody put it in")
            elif mark[8:] != _mark(fields):
                wrong.append(_difference(row, fields, int.from_bytes(mark[:8]), using))
        wrong += [f"{table} {key} is gone; journal entry {int.from_bytes(mark[:8])} tells of it"
                  for key, mark in known.items()]  # fmt: skip
    return compared, wrong


def _difference(row: models.Model, fields: dict[str, Any], number: int, using: str) -> str:
    after = JournalRow.objects.using(using).values_list("after", flat=True).get(number=number)
    table = str(row._meta.model_name)
    told = next(was for name, key, was in _rows_of(after) if (name, key) == (table, row.pk))
    names = [name for name in {**fields, **told} if fields.get(name) != told.get(name)]
    return f"{table} {row.pk} was altered after journal entry {number}: {', '.join(names)}"


def _mark(fields: dict[str, Any]) -> bytes:
    """Stands for plain data; 5 and 5.0, which a database may give back for one another, are the same."""
    same = {name: float(one) if type(one) is int else one for name, one in fields.items()}
    return hashlib.sha256(json.dumps(same, sort_keys=True).encode()).digest()[:MARK]


def _rows_of(after: str) -> Iterator[tuple[str, int, dict[str, Any]]]:
    """Rows that an entry tells of; an entry that was altered into anything else is told of by the chain."""
    try:
        told = json.loads(after or "{}")
    except ValueError:
        return
    rows = told.get("rows") if isinstance(told, dict) else None
    for name, fields in rows.items() if isinstance(rows, dict) else ():
        table, _, key = name.partition(" ")
        if key.isdecimal() and isinstance(fields, dict):
            yield table, int(key), fields


def _objects(using: str) -> Iterator[str]:
    """An object's row shows its latest edition, which was compared with the journal before."""
    editions = ObjectEdition.objects.using(using).order_by("edition").values_list("object_id", "edition", "fields")
    latest = {pk: (edition, fields) for pk, edition, fields in editions.iterator(PIECE)}
    for one in CollectionObject.objects.using(using).select_related("board").order_by("pk").iterator(PIECE):
        edition, fields = latest.get(one.pk, (0, {}))
        if edition != one.edition:
            yield f"object {one.number} shows edition {one.edition}, and its latest is {edition or 'none'}"
            continue
        now = {name: getattr(one, name) for name in EDITED if name != "board_id"}
        now["board"] = one.board.key if one.board else ""
        names = [name for name, value in now.items() if fields.get(name) != value]
        if names:
            yield f"object {one.number} was altered after its edition {edition}: {', '.join(names)}"


def _people(using: str) -> Iterator[str]:
    """Roles and doors are as the journal last told."""
    told: dict[str, dict[str, Any]] = {}
    entries = JournalRow.objects.using(using).filter(what__startswith="person ").order_by("number")
    for what, after in entries.values_list("what", "after").iterator(PIECE):
        try:
            standing = json.loads(after or "{}").get("set", {})
        except (ValueError, AttributeError):
            continue
        told.setdefault(what.removeprefix("person "), {}).update(
            {name: standing[name] for name in ("roles", "active") if name in standing}
        )
    for one in Person.objects.using(using).order_by("pk"):
        known = told.pop(one.key, None)
        roles = sorted(one.groups.values_list("name", flat=True))
        if known is None:
            yield f"person {one.key} is not in the journal: somebody put it in"
        elif sorted(known.get("roles", ())) != roles or known.get("active") != one.is_active:
            yield f"person {one.key} has roles or a door that the journal does not tell: {', '.join(roles) or 'none'}"
    yield from (f"person {key} is gone; the journal tells of it" for key in told)
