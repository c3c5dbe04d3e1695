"""What was done to an object, and where the parts went that came out of it."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly


class Repair(AppendOnly):
    """
    Something done to an object.

    Args:
        entry: The bench entry that tells the diagnosis of it, where there is one.
        proposal_version: What it was agreed under.
        act: One of ACTS.
        part: Which part.
        grade: Intervention grade, 0 look to 6 irreversible.
        words: What was done, with materials.
        fitted: What was fitted, its marking and where it came from; '' for nothing.
        fitted_piece: The removed part of another object that was fitted.
        making_safe: It was done to make something safe, and is to be looked at afterwards.
    """

    ACTS = ("replaced", "removed", "refitted", "cleaned", "resoldered", "adjusted", "added", "made safe", "other")

    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="repairs")
    visit = models.ForeignKey("store.Visit", on_delete=models.PROTECT, related_name="repairs", null=True, blank=True)
    entry = models.ForeignKey(
        "store.VisitEntry", on_delete=models.PROTECT, related_name="repairs", null=True, blank=True
    )
    proposal_version = models.ForeignKey(
        "store.ProposalVersion", on_delete=models.PROTECT, related_name="repairs", null=True, blank=True
    )
    act = models.CharField(max_length=20)
    part = models.CharField(max_length=120, blank=True, default="")
    grade = models.PositiveSmallIntegerField()
    words = models.TextField()
    fitted = models.TextField(blank=True, default="")
    fitted_piece = models.ForeignKey(
        "store.RemovedPart", on_delete=models.PROTECT, related_name="fitted_by", null=True, blank=True
    )
    making_safe = models.BooleanField(default=False)
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )


class RemovedPart(AppendOnly):
    """
    A part that came out, with a number of its own.

    Args:
        number: As on its bag.
        words: Marking as read, date code, how it looks.
        original: Whether it left the factory in this object; None where nobody can tell.
    """

    number = models.CharField(max_length=80, unique=True)
    object = models.ForeignKey("store.CollectionObject", on_delete=models.PROTECT, related_name="removed_parts")
    repair = models.ForeignKey(Repair, on_delete=models.PROTECT, related_name="removed_parts")
    part = models.CharField(max_length=120)
    words = models.TextField(blank=True, default="")
    original = models.BooleanField(null=True)

    def last_move(self) -> PartMove:
        """Where it is."""
        return self.moves.order_by("-pk")[0]


class PartMove(AppendOnly):
    """Where a removed part went; the last move tells where it is."""

    DISPOSITIONS = ("kept with the object", "refitted", "spares", "fitted elsewhere", "kept as a sample", "destroyed")

    piece = models.ForeignKey(RemovedPart, on_delete=models.PROTECT, related_name="moves")
    disposition = models.CharField(max_length=30)
    place = models.CharField(max_length=200, blank=True, default="")
    why = models.TextField(blank=True, default="")
