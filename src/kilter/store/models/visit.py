"""A visit: one stretch of work on an object, as entries that are only ever added."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly
from kilter.store.models.board import BoardEdition


class Visit(AppendOnly):
    """
    One stretch of work on one object; `at` and `who` tell who opened it when.

    Args:
        number: From 1, for each object.
        reason: Why it was opened.
        board_edition: What the diagnosis rests on; None for a visit without a diagnosis.
        not_working: Somebody saw the object fail.
        known_good: The object is a good specimen, read for comparison.
        instruments: What is at hand, as 'dmm,scope'; '' for the usual ones.
    """

    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="visits")
    number = models.PositiveIntegerField()
    reason = models.TextField(blank=True, default="")
    board_edition = models.ForeignKey(BoardEdition, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    not_working = models.BooleanField(default=True)
    known_good = models.BooleanField(default=False)
    instruments = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["object", "number"], name="visit_once")]

    def __str__(self) -> str:
        return f"{self.object.number}, visit {self.number}"

    def board_now(self) -> BoardEdition | None:
        """The board edition that counts: the visit's own, or the last that an event named."""
        last = self.events.filter(kind="board").order_by("-pk").first()
        return last.board_edition if last is not None else self.board_edition

    def is_open(self) -> bool:
        """Whether entries may still be added."""
        last = self.events.filter(kind__in=("closed", "reopened")).order_by("-pk").first()
        return last is None or last.kind == "reopened"


class VisitEntry(AppendOnly):
    """
    One thing that happened at the bench: `kilter.services.visit_log.Entry` as a row.

    Args:
        number: From 1, without gaps, for each visit.
        kind: One of `kilter.services.visit_log.KINDS`.
        words: As they were typed.
        point, quantity, value, word, uncertainty, state, instrument, doubtful, note: What the words mean, for a reading
            or a deed, as in `kilter.records.reading.Reading`; empty for other kinds.
    """

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="entries")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=30)
    words = models.JSONField(default=dict)
    point = models.CharField(max_length=120, blank=True, default="")
    quantity = models.CharField(max_length=40, blank=True, default="")
    value = models.FloatField(null=True, blank=True)
    word = models.CharField(max_length=60, blank=True, default="")
    uncertainty = models.FloatField(default=0.0)
    state = models.CharField(max_length=120, blank=True, default="")
    instrument = models.CharField(max_length=60, blank=True, default="")
    doubtful = models.BooleanField(default=False)
    note = models.TextField(blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["visit", "number"], name="visit_entry_once")]


class VisitEvent(AppendOnly):
    """The visit itself was closed, reopened or given another board edition."""

    KINDS = ("closed", "reopened", "board")

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=20)
    why = models.TextField(blank=True, default="")
    board_edition = models.ForeignKey(BoardEdition, on_delete=models.PROTECT, related_name="+", null=True, blank=True)


class GateCheck(AppendOnly):
    """
    One check before power, with its outcome. Passing the gate itself is a visit entry; these are what it rests on.

    Args:
        name: What was checked, in words.
        outcome: One of OUTCOMES; what was not done is not passed.
    """

    OUTCOMES = ("passed", "failed", "not done")

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="checks")
    name = models.CharField(max_length=200)
    outcome = models.CharField(max_length=20)
    words = models.TextField(blank=True, default="")
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
