"""What the collection learned, and whose files it takes: rows of the experience, and keys of other collections."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly


class LearnedEntry(AppendOnly):
    """
    One entry of the experience: `kilter.services.experience.Entry` as a row, chained like the lines of a file.

    Args:
        number: From 1, without gaps.
        kind: One of `kilter.services.experience.KINDS`.
        body: Plain data as JSON text, as it enters the chain.
        before: Digest of the entry before (`kilter.services.experience_chain`).
        digest: Of this one.
    """

    number = models.PositiveIntegerField(unique=True)
    kind = models.CharField(max_length=20)
    body = models.TextField()
    before = models.CharField(max_length=64)
    digest = models.CharField(max_length=64)


class KnownSharerQuerySet(models.QuerySet["KnownSharer"]):
    """Named questions."""

    def standing(self) -> KnownSharerQuerySet:
        """Keys that nothing supersedes and nobody took off the list."""
        return self.filter(superseded_by__isnull=True, withdrawn=False)


class KnownSharer(AppendOnly):
    """
    Another collection whose key was given in person.

    Args:
        name: What it is called here.
        key: Its public key, 64 hexadecimal digits.
        trust: Weight of its counts, 0 to 1.
        why: How the key was got, or why it is changed or taken off the list.
        withdrawn: It takes the one it supersedes off the list.
    """

    name = models.CharField(max_length=80)
    key = models.CharField(max_length=64)
    trust = models.FloatField()
    why = models.TextField(blank=True, default="")
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    withdrawn = models.BooleanField(default=False)

    objects = KnownSharerQuerySet.as_manager()
