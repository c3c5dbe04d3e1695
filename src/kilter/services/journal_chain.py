"""The chain of the journal: every entry carries the hash of the one before, so that no entry can be altered unseen."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from json.encoder import encode_basestring as quoted
from typing import Any

from kilter.records.journal import JournalEntry

EDITION = 1
START = "0" * 64
"""What the first entry has before it."""
FIELDS = tuple(JournalEntry.__dataclass_fields__)
"""Columns of an entry, in the order in which they are read."""
FORM = "{" + ",".join(f'"{one}":{EDITION if one == "edition" else "%s"}' for one in sorted((*FIELDS, "edition"))) + "}"


@dataclass(frozen=True)
class Break:
    """Where a chain is broken: the number of the entry, and in words how."""

    number: int
    words: str


def canonical(value: Any) -> str:
    """
    Plain data as one text and never another: keys sorted, no blanks, no infinite numbers.

    >>> canonical({"b": 1, "a": ["é", None]})
    '{"a":["é",null],"b":1}'
    """
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def hash_of(entry: JournalEntry) -> str:
    """SHA-256 of the canonical JSON of all fields and the edition of this rule, hexadecimal."""
    (text,) = chain_texts([(getattr(entry, name),) for name in FIELDS])
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def chain_texts(columns: Sequence[Sequence[Any]]) -> Iterable[str]:
    """
    The texts that are hashed, of many entries at once: what `canonical` makes of each, put together by columns.

    Args:
        columns: As FIELDS, each with as many values as there are entries.
    """
    by_name = dict(zip(FIELDS, columns, strict=True))
    names = sorted(FIELDS)
    written = [map(str if name == "number" else quoted, by_name[name]) for name in names]
    return map(FORM.__mod__, zip(*written, strict=True))


class Chain:
    """A chain that is read from its beginning, one entry after the other."""

    def __init__(self) -> None:
        self.read, self.previous = 0, START

    def broken_by(self, fields: Sequence[Any], written: str) -> Break | None:
        """
        What is wrong with the next entry; None where it follows.

        Args:
            fields: As FIELDS.
            written: The hash that stands beside it.
        """
        self.read += 1
        number, verb, what, previous = fields[0], fields[3], fields[4], fields[9]
        if number != self.read:
            return Break(self.read, f"entry {self.read} is missing: the next one is numbered {number}")
        if previous != self.previous:
            return Break(number, f"entry {number} does not follow entry {number - 1}: the hash of that one differs")
        self.previous = hash_of(JournalEntry(*fields))
        if self.previous != written:
            return Break(number, f"entry {number} ({verb}, {what}) was altered: its hash does not fit")
        return None


def broken(entries: Iterable[tuple[JournalEntry, str]]) -> Break | None:
    """
    The first entry that was altered, removed or put in; None where the chain holds.

    The end of a chain cannot vouch for itself: cutting off the last entries leaves a shorter chain that holds. Keep its
    last hash elsewhere and compare.

    Args:
        entries: In order of number, each with the hash that is written beside it.
    """
    chain = Chain()
    told = (chain.broken_by([getattr(entry, name) for name in FIELDS], written) for entry, written in entries)
    return next((one for one in told if one is not None), None)
