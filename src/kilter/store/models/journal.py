"""The journal: every change to the record, chained by hashes; triggers refuse to change or delete a row."""

from __future__ import annotations

from django.db import models

from kilter.records.journal import JournalEntry


class JournalRow(models.Model):
    """`kilter.records.journal.JournalEntry` as a row, with the hash it had when it was written."""

    number = models.PositiveBigIntegerField(primary_key=True)
    at = models.CharField(max_length=32)
    who = models.CharField(max_length=16, db_index=True)
    verb = models.CharField(max_length=60)
    what = models.CharField(max_length=200, db_index=True)
    why = models.TextField()
    before = models.TextField()
    after = models.TextField()
    evidence = models.TextField()
    previous = models.CharField(max_length=64)
    hash = models.CharField(max_length=64, unique=True)

    def entry(self) -> JournalEntry:
        """The row as the chain sees it."""
        return JournalEntry(self.number, self.at, self.who, self.verb, self.what, self.why, self.before, self.after,
                            self.evidence, self.previous)  # fmt: skip
