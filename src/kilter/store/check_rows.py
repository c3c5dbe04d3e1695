"""Every row that was written once is told by the journal, and still is as it was told."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from django.apps import apps
from django.db import models

from kilter.services.journal_chain import START, Break, Chain, canonical
from kilter.store.journal import plain
from kilter.store.models import JournalRow
from kilter.store.models.append_only import AppendOnly
from kilter.store.stored import Row, break_in, journal_pieces, row_texts, table_pieces

PIECE = 2000
BITS, MASK = 64, 2**64 - 1
"""
Of the hash that stands for a row's text while rows are compared, so that a million of them fit an old laptop.

It is Python's own (SipHash), whose key is drawn anew for every process: nobody can prepare a row for it.
"""
FIRST = '{"rows":{"'
"""How what an entry tells begins, where it tells of rows."""
WORD_EVERY_S = 2.0


class Comparison:
    """
    Reads the journal once, then every table that it tells of.

    A row is compared by the text that the journal has of it. Where that differs, as a whole number does from the same
    with a point, the values decide, the slow way.

    Args:
        using: Which of Django's databases.
        told: Hears how far it is, now and then.
    """

    def __init__(self, using: str, told: Callable[[str], None]) -> None:
        self.using, self.told = using, told
        self.tables: dict[str, type[models.Model]] = {
            str(one._meta.model_name): one
            for one in apps.get_app_config("store").get_models() if issubclass(one, AppendOnly)
        }  # fmt: skip
        self.known: dict[str, dict[int, int]] = {table: {} for table in self.tables}
        """For each row the number of the last entry that tells it, and behind it a mark of the text."""
        self.read, self.number, self.last, self.compared = 0, 0, START, 0
        self.spoken = time.monotonic()

    def read_journal(self) -> Break | None:
        """Follows the chain to its end and marks what it tells; where it is broken first, or None."""
        total = JournalRow.objects.using(self.using).count()
        self.told(f"the journal, {total:,} entries")
        chain, found = Chain(), None
        for piece in journal_pieces(self.using):
            if found is None:
                found = break_in(chain, piece)
            self._mark(piece)
            self.read += len(piece)
            self.number, self.last = piece[-1][0], piece[-1][-1]
            self._speak(f"the journal, {self.read:,} of {total:,} entries")
        return found

    def differences(self) -> Iterator[str]:
        """What differs, one sentence each, table by table."""
        self.told("the rows the journal tells of")
        for name, table in self.tables.items():
            known, texts, strangers = self.known[name], row_texts(table), []
            for piece in table_pieces(self.using, table):
                slow = {}
                for row, words in zip(piece, texts(piece) or [""] * len(piece), strict=True):
                    mark = known.pop(row[0], None)
                    if mark is None:
                        strangers.append(row[0])
                    elif mark & MASK != hash(words) & MASK:
                        slow[row[0]] = mark >> BITS
                self.compared += len(piece)
                yield from self._by_value(name, table, slow)
                self._speak(f"the rows the journal tells of, {self.compared:,}")
            yield from self._strangers(name, strangers)
            yield from (f"{name} {key} is gone; journal entry {mark >> BITS} tells of it"
                        for key, mark in known.items())  # fmt: skip

    def _mark(self, piece: Sequence[Row]) -> None:
        """
        Marks the rows that these entries tell.

        Nearly every entry tells one row: its text is what stands between name and end, and is not taken apart.
        """
        known, begin = self.known, len(FIRST)
        for row in piece:
            after = row[7]
            end = after.find('":{', begin) + 2
            table, _, key = after[begin : end - 2].partition(" ")
            one = after.startswith(FIRST) and after.endswith("}}}") and after.find('},"', end) < 0  # else more follows
            if one and key.isdecimal():
                if table in known:
                    known[table][int(key)] = row[0] << BITS | hash(after[end:-2]) & MASK
                continue
            for name, pk, fields in rows_of(after):
                if name in known:
                    known[name][pk] = row[0] << BITS | hash(canonical(fields)) & MASK

    def _by_value(self, name: str, table: type[models.Model], slow: dict[int, int]) -> Iterator[str]:
        """Rows whose text differs from what the journal tells, by key with the number of the entry."""
        keys = sorted(slow)
        for begin in range(0, len(keys), PIECE // 4):
            chosen = keys[begin : begin + PIECE // 4]
            numbers = {slow[key] for key in chosen}
            entries = JournalRow.objects.using(self.using).filter(number__in=numbers).values_list("number", "after")
            after = dict(entries)
            for row in table._base_manager.using(self.using).filter(pk__in=chosen).order_by("pk"):
                told = next(was for one, key, was in rows_of(after[slow[row.pk]]) if (one, key) == (name, row.pk))
                fields = json.loads(json.dumps(plain(row)))
                if _values(fields) != _values(told):
                    names = [one for one in {**fields, **told} if fields.get(one) != told.get(one)]
                    yield f"{name} {row.pk} was altered after journal entry {slow[row.pk]}: {', '.join(names)}"

    def _strangers(self, name: str, keys: list[int]) -> Iterator[str]:
        """Rows that the journal did not tell of when it was read: told since, or put in behind its back."""
        since: set[int] = set()
        if keys:
            for piece in journal_pieces(self.using, self.number):
                since.update(key for row in piece for one, key, _ in rows_of(row[7]) if one == name)
        yield from (f"{name} {key} is not in the journal: somebody put it in" for key in keys if key not in since)

    def _speak(self, words: str) -> None:
        if time.monotonic() - self.spoken >= WORD_EVERY_S:
            self.spoken = time.monotonic()
            self.told(words)


def rows_of(after: str) -> Iterator[tuple[str, int, dict[str, Any]]]:
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


def _values(fields: dict[str, Any]) -> str:
    """Plain data as text; 5 and 5.0, which a database may give back for one another, are the same."""
    return json.dumps({name: float(one) if type(one) is int else one for name, one in fields.items()}, sort_keys=True)
