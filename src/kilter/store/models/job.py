"""Long work: a row that one worker takes up, reports on and can be asked to stop."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import person_key

WAITING, RUNNING, DONE, FAILED, STOPPED = "waiting", "running", "done", "failed", "stopped"


class Job(models.Model):
    """
    A piece of long work. It is no part of the record: what it finds is recorded by a person.

    Args:
        kind: Which handler of the worker does it.
        wishes: What the handler is told.
        state: One of WAITING, RUNNING, DONE, FAILED, STOPPED.
        share: How much is done, 0 to 1.
        words: What it is doing, or why it ended.
        result: What it found.
        stop_wanted: Somebody asked it to stop.
        beat: When its worker last gave a sign.
        taken: How many workers took it up.
    """

    kind = models.CharField(max_length=60)
    wishes = models.JSONField(default=dict)
    state = models.CharField(max_length=10, default=WAITING, db_index=True)
    share = models.FloatField(default=0.0)
    words = models.TextField(blank=True, default="")
    result = models.JSONField(null=True, blank=True)
    stop_wanted = models.BooleanField(default=False)
    asked = models.DateTimeField()
    who = person_key()
    started = models.DateTimeField(null=True, blank=True)
    ended = models.DateTimeField(null=True, blank=True)
    beat = models.DateTimeField(null=True, blank=True)
    worker = models.CharField(max_length=80, blank=True, default="")
    taken = models.PositiveSmallIntegerField(default=0)
