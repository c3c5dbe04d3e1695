"""Proposals and the answers to them, each bound to one version of one proposal."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly


class Proposal(AppendOnly):
    """Work that somebody proposes on an object, or on the object that would lose a part; its words are in versions."""

    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="proposals")
    visit = models.ForeignKey("store.Visit", on_delete=models.PROTECT, related_name="proposals", null=True, blank=True)
    number = models.PositiveIntegerField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["object", "number"], name="proposal_once")]

    def __str__(self) -> str:
        return f"{self.object.number}, proposal {self.number}"

    def latest(self) -> ProposalVersion:
        """The version that may be answered."""
        return self.versions.order_by("-version")[0]


class ProposalVersion(AppendOnly):
    """
    What is proposed, word for word. A change is a new version, and answers to earlier ones lapse.

    Args:
        act: One of `kilter.services.approvals.ACTS`.
        grade: Intervention grade, 0 look to 6 irreversible.
        part: Which part.
        words: What would be done.
        reason: Why.
        alternatives: What else was weighed, doing nothing among it.
        undo: How it can be undone, or that it cannot.
        receiver: For 'take parts', the object that would get the part.
    """

    proposal = models.ForeignKey(Proposal, on_delete=models.PROTECT, related_name="versions")
    version = models.PositiveIntegerField()
    act = models.CharField(max_length=20)
    grade = models.PositiveSmallIntegerField()
    part = models.CharField(max_length=120, blank=True, default="")
    words = models.TextField()
    reason = models.TextField()
    alternatives = models.TextField(blank=True, default="")
    undo = models.TextField(blank=True, default="")
    receiver = models.ForeignKey(
        "store.CollectionObject", on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["proposal", "version"], name="proposal_version_once")]


class Approval(AppendOnly):
    """
    One person's answer to one version.

    Args:
        capacity: For whom the person speaks.
        decision: 'consent' or 'refusal'.
        words: Conditions, reasons, where the minutes are.
    """

    version = models.ForeignKey(ProposalVersion, on_delete=models.PROTECT, related_name="approvals")
    capacity = models.CharField(max_length=40)
    decision = models.CharField(max_length=20)
    words = models.TextField(blank=True, default="")


class ProposalEnd(AppendOnly):
    """A proposal was withdrawn, or carried out."""

    KINDS = ("withdrawn", "carried out")

    proposal = models.ForeignKey(Proposal, on_delete=models.PROTECT, related_name="ends")
    kind = models.CharField(max_length=20)
    why = models.TextField(blank=True, default="")
