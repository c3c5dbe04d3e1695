"""
What is stored, read by the thousand without making a model of each row: for checks of the whole record.

Rows come in order of their key, a piece at a time, each piece by a question of its own; so a million of them never
stand in memory at once, on neither engine. They are made into text a column at a time, since a step in Python for every
value is what takes long.
"""

from __future__ import annotations

import hashlib
import json
import math
import secrets
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from json.encoder import encode_basestring as quoted
from typing import Any

from django.db import connections, models

from kilter.services.journal_chain import FIELDS, Break, Chain, chain_texts
from kilter.store.journal import NOT_TOLD, moment
from kilter.store.models import JournalRow

PIECE = 5000
LACKING = ".000000"
"""What SQLite's text of a time lacks where there are no microseconds."""
Row = tuple[Any, ...]
CANONICAL = json.JSONEncoder(sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
"""As `kilter.services.journal_chain.canonical`, made once."""


def journal_pieces(using: str, after: int | None = None) -> Iterator[list[Row]]:
    """Entries of the journal as FIELDS and the hash beside them, in order; all of them, or those after a number."""
    return _pieces(using, JournalRow._meta.db_table, "number", (*FIELDS, "hash"), after)


def break_in(chain: Chain, piece: Sequence[Row]) -> Break | None:
    """
    Where a chain is broken within the next piece; None where it holds.

    The whole piece is looked at in one go; only where something is wrong in it, entry by entry.
    """
    *fields, written = zip(*piece, strict=True)
    numbers, before = fields[0], fields[9]
    follows = list(numbers) == list(range(chain.read + 1, chain.read + 1 + len(piece)))
    if follows and before == (chain.previous, *written[:-1]):
        try:
            hashes = [hashlib.sha256(text.encode("utf-8")).hexdigest() for text in chain_texts(fields)]
        except (TypeError, UnicodeEncodeError):  # a column holds something else than text
            hashes = []
        if hashes == list(written):
            chain.read, chain.previous = numbers[-1], written[-1]
            return None
    told = (chain.broken_by(row[:-1], row[-1]) for row in piece)
    return next((one for one in told if one is not None), None)


def find_break(using: str = "default") -> Break | None:
    """Where the journal's chain is broken first; None where it holds."""
    chain = Chain()
    told = (break_in(chain, piece) for piece in journal_pieces(using))
    return next((one for one in told if one is not None), None)


def table_pieces(using: str, table: type[models.Model]) -> Iterator[list[Row]]:
    """Rows of a table: the key, then the columns that the journal tells, in order of their names."""
    key = table._meta.pk
    assert key is not None
    times = [str(one.column) for one in _told(table) if isinstance(one, models.DateField)]
    columns = (str(key.column), *(str(one.column) for one in _told(table)))
    return _pieces(using, table._meta.db_table, str(key.column), columns, as_text=times)


def row_texts(table: type[models.Model]) -> Callable[[Sequence[Row]], list[str] | None]:
    """
    Makes of a piece of `table_pieces` the texts that the journal has of its rows, without their keys.

    The text is that of `canonical(plain(row))`. Where a column holds what it should not, or what only the slow way can
    tell, there are none for the whole piece.
    """
    fields = _told(table)
    form = "{" + ",".join(f"{quoted(str(field.attname))}:%s" for field in fields) + "}"
    writers = [_writer(field) for field in fields]

    def texts(piece: Sequence[Row]) -> list[str] | None:
        _, *columns = zip(*piece, strict=True)
        try:
            written = [write(column) for write, column in zip(writers, columns, strict=True)]
            return list(map(form.__mod__, zip(*written, strict=True)))
        except (TypeError, ValueError, KeyError, AttributeError):
            return None

    return texts


def _told(table: type[models.Model]) -> list[models.Field[Any, Any]]:
    fields = [one for one in table._meta.concrete_fields if one.attname not in NOT_TOLD and not one.primary_key]
    return sorted(fields, key=lambda one: one.attname)


def _pieces(
    using: str, table: str, key: str, columns: tuple[str, ...], after: int | None = None, as_text: Sequence[str] = ()
) -> Iterator[list[Row]]:
    """`as_text` are columns that SQLite's driver would make times of, one by one, where their text will do."""
    connection = connections[using]
    name = connection.ops.quote_name
    cast = as_text if connection.vendor == "sqlite" else ()
    shown = ", ".join(f"CAST({name(one)} AS TEXT)" if one in cast else name(one) for one in columns)
    asked, order = f"SELECT {shown} FROM {name(table)}", f"ORDER BY {name(key)} LIMIT {PIECE:d}"
    while True:
        with connection.cursor() as cursor:
            if after is None:
                cursor.execute(f"{asked} {order}")
            else:
                cursor.execute(f"{asked} WHERE {name(key)} > %s {order}", [after])
            rows = cursor.fetchall()
        if rows:
            yield rows
        if len(rows) < PIECE:
            return
        after = rows[-1][0]


Writer = Callable[[Sequence[Any]], Sequence[str]]


def _writer(field: models.Field[Any, Any]) -> Writer:
    """Writes stored values as JSON; raises one of the usual errors where one is of another kind than the column."""
    if isinstance(field, models.ForeignKey):
        return _or_null(_writer(field.target_field))
    for kind, write in WRITERS:
        if isinstance(field, kind):
            return _or_null(write) if field.null else write
    raise AssertionError(f"{field} is of a kind that the journal was never told")


def _or_null(write: Writer) -> Writer:
    def written(values: Sequence[Any]) -> Sequence[str]:
        if None not in values:
            return write(values)
        there = iter(write([one for one in values if one is not None]))
        return ["null" if one is None else next(there) for one in values]

    return written


def _times(values: Sequence[Any]) -> Sequence[str]:
    if set(map(type, values)) == {str}:
        whole = [one if len(one) > 19 else one + LACKING for one in values]
        return [quoted(f"{one[:10]}T{one[11:]}+00:00") for one in whole]
    return [quoted(moment(one)) for one in values]


def _days(values: Sequence[Any]) -> Sequence[str]:
    return [quoted(one.isoformat() if isinstance(one, date) else one) for one in values]


def _truths(values: Sequence[Any]) -> Sequence[str]:
    return list(map({0: "false", 1: "true"}.__getitem__, values))


def _numbers(values: Sequence[Any]) -> Sequence[str]:
    if set(map(type, values)) - {float} or not all(map(math.isfinite, values)):
        raise ValueError(values)
    return [repr(one + 0.0) for one in values]


def _wholes(values: Sequence[Any]) -> Sequence[str]:
    if set(map(type, values)) - {int}:
        raise ValueError(values)
    return list(map(str, values))


def _words(values: Sequence[Any]) -> Sequence[str]:
    return list(map(quoted, values))


def _data(values: Sequence[Any]) -> Sequence[str]:
    """One call for them all: between two stands a word that nobody can have written."""
    word = secrets.token_hex(16)
    read = json.loads(f"[{f',{quoted(word)},'.join(values)}]")
    written = CANONICAL.encode(read)[1:-1].split(f",{quoted(word)},")
    if len(read) != 2 * len(values) - 1 or len(written) != len(values):
        raise ValueError(values)
    return written


WRITERS: tuple[tuple[type[models.Field[Any, Any]], Writer], ...] = (
    (models.DateTimeField, _times),
    (models.DateField, _days),
    (models.BooleanField, _truths),
    (models.FloatField, _numbers),
    (models.IntegerField, _wholes),
    (models.CharField, _words),
    (models.TextField, _words),
    (models.JSONField, _data),
)
