"""Objects that run for visitors: when and where they are shown, how much they ran, what was inspected, what wears."""

from __future__ import annotations

from typing import Any

from django.db import models

from kilter.store.models.append_only import AppendOnly


class StandingQuerySet(models.QuerySet[Any]):
    """Named questions."""

    def standing(self) -> StandingQuerySet:
        """Rows that nothing supersedes and that take nothing back."""
        return self.filter(superseded_by__isnull=True, withdrawn=False)


class ToldOnce(models.Model):
    """
    What is corrected by a later row, or taken back by one that says why.

    Args:
        withdrawn: It takes back the one it supersedes.
        why: The reason of a correction, or of taking back.
    """

    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    withdrawn = models.BooleanField(default=False)
    why = models.TextField(blank=True, default="")

    objects = StandingQuerySet.as_manager()

    class Meta(AppendOnly.Meta):
        abstract = True


class DisplayPeriod(ToldOnce, AppendOnly):
    """
    A stretch of time in which an object is on display.

    Args:
        begin, end: First day, and the day on which it was taken off; no end while it stands there.
        place: Where.
        conditions: Light, dust, vibration, who switches it on, in words.
        hours_a_week, switch_ons_a_week: As planned; None where nobody said, 0 where it is not run.
        hours_before, switch_ons_before: That it had behind it on the first day; None where nobody knows.
        warmth: Of its parts above the room, measured. [K]
    """

    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="display_periods")
    begin = models.DateField()
    end = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=200, blank=True, default="")
    conditions = models.TextField(blank=True, default="")
    hours_a_week = models.FloatField(null=True, blank=True)
    switch_ons_a_week = models.FloatField(null=True, blank=True)
    hours_before = models.FloatField(null=True, blank=True)
    switch_ons_before = models.FloatField(null=True, blank=True)
    warmth = models.FloatField(null=True, blank=True)


class RunningEntry(ToldOnce, AppendOnly):
    """
    What somebody read or counted at an object on display.

    Args:
        kind: One of KINDS: a meter and a tally that only ever grow; what it did from a day to another; the room.
        day: On which it was read; the last day that is told of.
        first: For RAN, the first day.
        hours, switch_ons: As the meter and the tally show, or for RAN of these days alone; None for not counted.
        anew: The meter was set back or changed, and counts from here.
        celsius, humidity: Of the room. [degC, % relative humidity]
    """

    METER, RAN, ROOM = "meter read", "ran", "room"
    KINDS = (METER, RAN, ROOM)

    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="running_entries")
    kind = models.CharField(max_length=20)
    day = models.DateField()
    first = models.DateField(null=True, blank=True)
    hours = models.FloatField(null=True, blank=True)
    switch_ons = models.FloatField(null=True, blank=True)
    anew = models.BooleanField(default=False)
    celsius = models.FloatField(null=True, blank=True)
    humidity = models.FloatField(null=True, blank=True)
    words = models.TextField(blank=True, default="")


class DisplayInspection(ToldOnce, AppendOnly):
    """
    An inspection that was done, or was begun and not finished.

    Args:
        key: Of what was done, one of `kilter.planning.display.due.inspection_keys()`.
        day: On which.
        outcome: One of OUTCOMES; what was not finished stays due.
        words: What was found.
        inspector: Who did it, where it was not whoever writes.
        again: By which day it is to be done again, sooner than usual.
    """

    NOTHING, SOMETHING, UNFINISHED = "nothing found", "something found", "not finished"
    OUTCOMES = (NOTHING, SOMETHING, UNFINISHED)

    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="display_inspections")
    key = models.CharField(max_length=60)
    day = models.DateField()
    outcome = models.CharField(max_length=20)
    words = models.TextField(blank=True, default="")
    inspector = models.CharField(max_length=200, blank=True, default="")
    again = models.DateField(null=True, blank=True)


class WearingParts(ToldOnce, AppendOnly):
    """How many parts of a kind of wear an object has; it goes before what is counted on its board."""

    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="wearing_parts")
    kind = models.CharField(max_length=30)
    count = models.PositiveIntegerField()
    words = models.TextField(blank=True, default="")


class PartsRenewed(ToldOnce, AppendOnly):
    """
    Parts of a kind of wear that were renewed.

    Args:
        repair: That did it, where it is recorded.
        day: On which.
        count: How many.
        failed: How many of them had failed; None where nobody wrote it down.
    """

    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="parts_renewed")
    repair = models.ForeignKey(
        "store.Repair", on_delete=models.PROTECT, related_name="parts_renewed", null=True, blank=True
    )
    kind = models.CharField(max_length=30)
    day = models.DateField()
    count = models.PositiveIntegerField()
    failed = models.PositiveIntegerField(null=True, blank=True)
    words = models.TextField(blank=True, default="")
