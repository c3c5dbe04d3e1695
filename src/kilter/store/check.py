"""Whether the record is whole: the journal's chain, its triggers, the rows it tells of, and the files."""

from __future__ import annotations

import gc
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import connections

from kilter.store.check_rows import PIECE, Comparison
from kilter.store.journal import head
from kilter.store.models import Attachment, CollectionObject, JournalRow, ObjectEdition, Person
from kilter.store.models.collection import EDITED
from kilter.store.triggers import protected_tables, unprotected
from kilter.store.trouble import plainly
from kilter.store.verbs.files import file_store


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
        finished: False where it was stopped; then nothing follows for what was not looked at.
    """

    entries: int
    head: str
    rows: int
    files: int
    wrong: tuple[str, ...]
    finished: bool = True


def check(*, files: bool = True, told: Callable[[str], None] = lambda _: None, using: str = "default") -> Checked:
    """
    Looks the whole record over. Whoever stops it (KeyboardInterrupt) gets what was found so far.

    Others may go on recording meanwhile; of what they add after the beginning, nothing is said.

    Args:
        files: Read every file too.
        told: Hears how far it is.
        using: Which of Django's databases.

    Raises:
        BadInput: The database cannot be read at all.
    """
    connection = connections[using]
    rows, wrong, count = Comparison(using, told), list[str](), 0
    with plainly("Cannot check the record"), _without_collecting():
        try:
            wrong += [f"the table {one} lost its triggers" for one in unprotected(connection, protected_tables())]
            if connection.vendor == "sqlite":
                told("the database file")
                wrong += [f"the database file: {line}" for line in _integrity(connection) if line != "ok"]
            if break_ := rows.read_journal():
                wrong.append(f"journal: {break_.words}")
            for words in rows.differences():
                wrong.append(words)
            wrong += [*_objects(using), *_people(using)]
            if files:
                known = list(Attachment.objects.using(using).order_by("pk").values_list("sha256", "size"))
                told(f"the files, {len(known):,}")
                for one in known:
                    wrong += file_store().wrong(iter([one]))
                    count += 1
        except KeyboardInterrupt:
            return Checked(rows.read, rows.last, rows.compared, count, tuple(wrong), finished=False)
        number, last = head(using)
    return Checked(number, last, rows.compared, count, tuple(wrong))


@contextmanager
def _without_collecting() -> Iterator[None]:
    """Rows by the million make no cycles, and looking for some takes a fifth of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _integrity(connection: Any) -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        return [str(row[0]) for row in cursor.fetchall()]


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
