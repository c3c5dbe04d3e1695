"""An entry of the record's journal, as plain values; the rule that chains them is `kilter.services.journal_chain`."""

from __future__ import annotations

from dataclasses import dataclass


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


@dataclass(frozen=True)
class JournalLine(JournalEntry):
    """An entry with the hash that was written beside it, as it is handed over."""

    hash: str
