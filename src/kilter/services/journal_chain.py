"""The chain of the journal: every entry carries the hash of the one before, so that no entry can be altered unseen."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

EDITION = 1
START = "0" * 64
"""What the first entry has before it."""


@dataclass(frozen=True)
class JournalEntry:
    """
    One thing that was done to the record.

    Args:
        number: From 1, without gaps.
        at: ISO 8601, UTC, with microseconds.
        who: Key of the person, which names nobody to a stranger; '' for the program itself.
        verb: What was done.
        what: To what, as 'object HC 0417'.
        why: The person's reason, where one was asked for or given.
        before: What stood there, as canonical JSON; '' where nothing did.
        after: What stands there now, as canonical JSON; rows by table and key.
        evidence: SHA-256 of the files that belong to it, in order, joined by blanks.
        previous: Hash of the entry before.
    """

    number: int
    at: str
    who: str
    verb: str
    what: str
    why: str
    before: str
    after: str
    evidence: str
    previous: str

    @property
    def hash(self) -> str:
        """SHA-256 of the canonical JSON of all fields and the edition of this rule, hexadecimal."""
        return hashlib.sha256(canonical({"edition": EDITION, **asdict(self)}).encode("utf-8")).hexdigest()


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


def broken(entries: Iterable[tuple[JournalEntry, str]]) -> Break | None:
    """
    The first entry that was altered, removed or put in; None where the chain holds.

    The end of a chain cannot vouch for itself: cutting off the last entries leaves a shorter chain that holds. Keep its
    last hash elsewhere and compare.

    Args:
        entries: In order of number, each with the hash that is written beside it.
    """
    previous = START
    for number, (entry, written) in enumerate(entries, 1):
        if entry.number != number:
            return Break(number, f"entry {number} is missing: the next one is numbered {entry.number}")
        if entry.previous != previous:
            return Break(number, f"entry {number} does not follow entry {number - 1}: the hash of that one differs")
        if entry.hash != written:
            return Break(number, f"entry {number} ({entry.verb}, {entry.what}) was altered: its hash does not fit")
        previous = written
    return None
