"""
A record of any size for timing, put in by the thousand: objects, statements, visits, readings, and the journal.

The verbs write one row at a time, each in a transaction of its own that waits for the disk; a million of them would
take hours. Here objects, statements and visits are made with the same models and put in with bulk_create; readings and
journal rows, of which there are most, as columns. Every journal row is what the verb would have written: its number,
its rows told whole, its hash over the one before; of every thousandth reading that is compared with what the record's
own functions make of it. `kilter store check` finds nothing amiss in such a record.
"""

from __future__ import annotations

import hashlib
import itertools
import json
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from django.db import connection, models, transaction

from kilter.records.journal import JournalEntry
from kilter.services.journal_chain import EDITION, canonical, hash_of
from kilter.store.journal import head, moment, plain, row_name
from kilter.store.models import (
    BoardEdition,
    CollectionObject,
    JournalRow,
    ObjectEdition,
    Person,
    Statement,
    Visit,
    VisitEntry,
)
from kilter.store.models.collection import STATES
from kilter.store.search import search_text

ENTRY = ("id", "at", "words", "who_id", "visit_id", "number", "kind", "point", "quantity", "value", "word",
         "uncertainty", "state", "instrument", "doubtful", "note")  # fmt: skip
CHECKED_EVERY = 1000
PER_VISIT, VISITS_OF_THE_OLDEST, BATCH, SEED = 25, 40, 500, 2026
NAMES = ("Step computer", "Arithmetic trainer", "Sorting machine", "Tone organ", "Weather recorder", "Signal box panel",
         "Counting scale", "Slide projector control", "Pocket calculator", "Studio mixer")  # fmt: skip
PLACES = ("attic", "cellar", "shelf", "cabinet", "show room", "workshop")
TOLD = ("Silent, the lamp is lit.", "Hums loudly after ten minutes.", "Came with a torn manual and two leads.",
        "The key of the lid is missing.", "Capacitor beside the socket bulged.", "Worked when it was given.",
        "Rust along the lower edge, dry.", "The display shows half of each digit.")  # fmt: skip
START = datetime(2019, 3, 1, 9, 0, tzinfo=UTC)


class Journal:
    """Journal rows one after another, each chained to the one before."""

    def __init__(self) -> None:
        self.number, self.previous = head()
        self.rows: list[tuple[Any, ...]] = []

    def row(self, at: datetime, who: str, verb: str, what: str, row: models.Model, why: str = "") -> None:
        """The row that a verb would write."""
        self.told(moment(at), who, verb, what, {row_name(row): plain(row)}, why)

    def told(self, at: str, who: str, verb: str, what: str, rows: dict[str, Any], why: str = "") -> None:
        """The same, of rows that are plain already."""
        self.number += 1
        columns = {"number": self.number, "at": at, "who": who, "verb": verb, "what": what, "why": why, "before": "",
                   "after": canonical({"rows": rows}), "evidence": "", "previous": self.previous}  # fmt: skip
        text = canonical({"edition": EDITION, **columns})
        columns["hash"] = self.previous = hashlib.sha256(text.encode("utf-8")).hexdigest()
        self.rows.append(tuple(columns.values()))
        if self.number % CHECKED_EVERY == 0:
            del columns["hash"]
            assert hash_of(JournalEntry(**columns)) == self.previous

    def put(self) -> None:
        """Puts what was told into the table."""
        _insert(JournalRow, ("number", "at", "who", "verb", "what", "why", "before", "after", "evidence", "previous",
                             "hash"), self.rows)  # fmt: skip
        self.rows.clear()


def fill_by_the_thousand(person: Person, edition: BoardEdition, objects: int, readings: int) -> int:
    """
    Puts objects and about so many readings into the record; the first object gets VISITS_OF_THE_OLDEST visits.

    Args:
        person: Who is said to have done it.
        edition: The board of every other object, and of every visit to one.
        objects: How many.
        readings: How many in all; PER_VISIT in each visit.

    Returns:
        Key of the first object.
    """
    draw, journal = np.random.default_rng(SEED), Journal()
    visits_left = readings // PER_VISIT
    keys = {table: itertools.count((table.objects.order_by("-pk").values_list("pk", flat=True).first() or 0) + 1)
            for table in (CollectionObject, ObjectEdition, Statement, Visit, VisitEntry)}  # fmt: skip
    first = 0
    for begin in range(0, objects, BATCH):
        rows: dict[type[models.Model], list[Any]] = {table: [] for table in keys}
        for number in range(begin, min(begin + BATCH, objects)):
            about = _object(rows, keys, journal, draw, person, edition, number)
            first = first or about.pk
            wanted = VISITS_OF_THE_OLDEST if number == 0 else -(-visits_left // (objects - number))
            for visit in range(1, min(wanted, visits_left) + 1):
                _visit(rows, keys, journal, draw, person, edition, about, visit)
            visits_left -= min(wanted, visits_left)
        with transaction.atomic():
            readings_made = rows.pop(VisitEntry)
            for table, made in rows.items():
                table._default_manager.bulk_create(made, batch_size=2000)
            _insert(VisitEntry, ENTRY, readings_made)
            journal.put()
    return first


def _object(
    rows: dict[type[models.Model], list[Any]], keys: dict[Any, Iterator[int]], journal: Journal,
    draw: np.random.Generator, person: Person, edition: BoardEdition, number: int,
) -> CollectionObject:  # fmt: skip
    at = START + timedelta(hours=number)
    fields = {
        "number": f"B {number:05d}", "name": f"{NAMES[number % len(NAMES)]}, example {number // len(NAMES) + 1}",
        "kind": "teaching machine", "made": f"about {1960 + number % 40}", "owner": "Harrowmere Cabinet",
        "accession": "accessioned", "location": f"{PLACES[number % len(PLACES)]} {number % 97}",
        "state": STATES[int(draw.integers(len(STATES)))], "limits": "",
    }  # fmt: skip
    told = [TOLD[int(draw.integers(len(TOLD)))] for _ in range(2)]
    board = edition.board if number % 2 == 0 else None
    about = CollectionObject(
        pk=next(keys[CollectionObject]), **fields, board=board, edition=1, received=at,
        search_text=search_text([*fields.values(), *told]),
    )  # fmt: skip
    first = ObjectEdition(pk=next(keys[ObjectEdition]), object=about, edition=1, why="bulk", at=at, who=person,
                          fields={**fields, "board": board.key if board else ""})  # fmt: skip
    rows[CollectionObject].append(about)
    rows[ObjectEdition].append(first)
    what = f"object {about.number}"
    journal.row(at, person.key, "receive an object", what, first, "bulk")
    for text in told:
        statement = Statement(pk=next(keys[Statement]), object=about, kind="condition", text=text, at=at, who=person)
        rows[Statement].append(statement)
        journal.row(at, person.key, "write about an object", what, statement)
    return about


def _visit(
    rows: dict[type[models.Model], list[Any]], keys: dict[Any, Iterator[int]], journal: Journal,
    draw: np.random.Generator, person: Person, edition: BoardEdition, about: CollectionObject, number: int,
) -> None:  # fmt: skip
    at, what = about.received + timedelta(days=number), f"object {about.number}"
    visit = Visit(pk=next(keys[Visit]), object=about, number=number, reason="does not sound", at=at, who=person,
                  board_edition=edition if about.board_id else None)  # fmt: skip
    rows[Visit].append(visit)
    journal.row(at, person.key, "open a visit", what, visit, visit.reason)
    for place, volts in enumerate(draw.uniform(0.1, 12.0, PER_VISIT).round(3), 1):
        _reading(rows[VisitEntry], next(keys[VisitEntry]), journal, visit, place, float(volts))


def _reading(rows: list[Any], key: int, journal: Journal, visit: Visit, place: int, value: float) -> None:
    """One reading as columns, told as its own model would tell it."""
    at = visit.at + timedelta(minutes=place)
    words = {"point": f"TP{place}", "value": f"{value} V"}
    told = {
        "at": moment(at), "who_id": visit.who_id, "visit_id": visit.pk, "number": place, "kind": "reading",
        "words": words, "point": f"TP{place}", "quantity": "voltage", "value": value, "word": "", "uncertainty": 0.01,
        "state": "off", "instrument": "dmm", "doubtful": False, "note": "",
    }  # fmt: skip
    journal.told(told["at"], visit.who.key, "record at the bench", f"object {visit.object.number}",
                 {f"visitentry {key}": told})  # fmt: skip
    rows.append((key, connection.ops.adapt_datetimefield_value(at), json.dumps(words),
                 *(told[name] for name in ENTRY[3:])))  # fmt: skip
    if key % CHECKED_EVERY == 0:
        row = VisitEntry(**{**told, "pk": key, "at": at})
        assert (row_name(row), plain(row)) == (f"visitentry {key}", told)


def _insert(table: type[models.Model], columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    names = ", ".join(f'"{name}"' for name in columns)
    marks = ", ".join(["%s"] * len(columns))
    with connection.cursor() as cursor:
        cursor.executemany(f'INSERT INTO "{table._meta.db_table}" ({names}) VALUES ({marks})', rows)
