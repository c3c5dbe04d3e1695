"""How a visit ended: what had failed and whether the object works again, as a person says."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly
from kilter.store.models.visit import Visit

PARTS, NO_PART, NOT_FOUND = "parts were faulty", "no part was faulty", "not found out"
WORKS, BROKEN, NOT_TRIED = "works again", "does not work", "not tried"


class VisitOutcomeQuerySet(models.QuerySet["VisitOutcome"]):
    """Named questions."""

    def standing(self) -> VisitOutcomeQuerySet:
        """Outcomes that nothing supersedes and nobody took back."""
        return self.filter(superseded_by__isnull=True, withdrawn=False)


class VisitOutcome(AppendOnly):
    """
    How one visit ended; `at` and `who` tell who confirmed it when.

    Args:
        visit: Which.
        found: One of FOUND.
        parts: Name of each faulty part to its failure mode, 'unknown' where nobody found out how.
        works: One of STATES.
        said_by: Who tried the object, in words, where that is somebody else.
        words: How it was found out; for one that takes back, why.
        withdrawn: It takes back the one it supersedes.
    """

    FOUND = (PARTS, NO_PART, NOT_FOUND)
    STATES = (WORKS, BROKEN, NOT_TRIED)

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="outcomes")
    found = models.CharField(max_length=30)
    parts = models.JSONField(default=dict)
    works = models.CharField(max_length=20)
    said_by = models.CharField(max_length=200, blank=True, default="")
    words = models.TextField(blank=True, default="")
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    withdrawn = models.BooleanField(default=False)

    objects = VisitOutcomeQuerySet.as_manager()
