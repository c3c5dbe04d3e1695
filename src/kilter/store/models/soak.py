"""Soaks of a visit: the plan, and what was found in the logs, each written once and superseded by the next."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly
from kilter.store.models.visit import Visit


class SoakPlan(AppendOnly):
    """
    What is logged while the object runs, where it stops, and for how long; the latest of a visit stands.

    Args:
        hours: Planned. [h]
        state: Of the object while it runs.
        channels: Each with 'name', 'quantity', 'low', 'high' (in the unit of the quantity, null for none) and 'why'.
        words: Why it was made or changed.
    """

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="soak_plans")
    hours = models.FloatField()
    state = models.CharField(max_length=120, blank=True, default="")
    channels = models.JSONField(default=list)
    words = models.TextField(blank=True, default="")
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )


class SoakFinding(AppendOnly):
    """
    What the logs told when a person had them judged by a plan.

    Args:
        plan: With the limits that were held against them.
        logs: Each with 'name' and 'sha256', in the order of the sessions.
        failures: That a person counted and no channel shows.
        verdict: The worst of any channel.
        told: All of it, as `kilter.services.tell_soak.told_soak` makes it.
        words: Of the person.
    """

    plan = models.ForeignKey(SoakPlan, on_delete=models.PROTECT, related_name="findings")
    logs = models.JSONField(default=list)
    failures = models.PositiveIntegerField(default=0)
    verdict = models.CharField(max_length=20)
    told = models.JSONField(default=dict)
    words = models.TextField(blank=True, default="")
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
