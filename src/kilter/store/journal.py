"""Write the journal, in the same transaction as what it tells of."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime
from typing import Any

from django.db import connections, models

from kilter.records.journal import JournalEntry
from kilter.services.journal_chain import START, canonical, hash_of
from kilter.store.models import JournalRow

CHAIN_LOCK = 7_266_117
"""Number of PostgreSQL's advisory lock under which verbs take turns; any number that nobody else uses."""
NOT_TOLD = frozenset({"password", "last_login", "login"})
"""Columns that never enter the journal: secrets, and what may have to be erased."""


def now() -> datetime:
    """The time, UTC."""
    return datetime.now(UTC)


def take_turn(using: str = "default") -> None:
    """Waits, within a transaction, for other verbs to end. SQLite's immediate transactions wait by themselves."""
    connection = connections[using]
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [CHAIN_LOCK])


def write(
    who: str,
    verb: str,
    what: str,
    *,
    rows: Iterable[models.Model] = (),
    why: str = "",
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
    evidence: Iterable[str] = (),
) -> JournalRow:
    """
    Adds one entry; the caller is within the transaction of what it tells of, and has taken its turn.

    Args:
        who: Key of the person, '' for the program.
        verb: What was done.
        what: To what.
        rows: Rows that were added; told whole, so that a later change to one can be found.
        why: The reason.
        before: What stood there.
        after: What stands there now, where no row tells it.
        evidence: SHA-256 of files.
    """
    last = JournalRow.objects.order_by("-number").values_list("number", "hash").first()
    number, previous = (last[0] + 1, last[1]) if last else (1, START)
    told = {"rows": {row_name(row): plain(row) for row in rows}, **({"set": dict(after)} if after else {})}
    entry = JournalEntry(
        number, moment(now()), who, verb, what, why, canonical(dict(before)) if before else "", canonical(told),
        " ".join(evidence), previous,
    )  # fmt: skip
    return JournalRow.objects.create(hash=hash_of(entry), **fields_of(entry))


def fields_of(entry: JournalEntry) -> dict[str, Any]:
    """The entry as columns."""
    return {name: getattr(entry, name) for name in entry.__dataclass_fields__}


def row_name(row: models.Model) -> str:
    """Table and key, as 'visitentry 12'."""
    return f"{row._meta.model_name} {row.pk}"


def plain(row: models.Model) -> dict[str, Any]:
    """A row as plain data that is the same on every engine."""
    return {
        field.attname: _plain(getattr(row, field.attname))
        for field in row._meta.concrete_fields
        if field.attname not in NOT_TOLD and not field.primary_key
    }


def moment(at: datetime) -> str:
    """ISO 8601 in UTC with microseconds."""
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return moment(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return value + 0.0 if math.isfinite(value) else str(value)  # -0.0, which not every engine keeps, is 0.0
    return value


def head(using: str = "default") -> tuple[int, str]:
    """Number and hash of the last entry; keep them elsewhere, they are what a shortened journal is found by."""
    last = JournalRow.objects.using(using).order_by("-number").values_list("number", "hash").first()
    return (last[0], last[1]) if last else (0, START)
