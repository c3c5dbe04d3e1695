"""Files: each kept once under its SHA-256, and filed as often as it is needed."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly

SOAK_LOG = "soak log"
"""What an object read over hours under power: judged by the plan of the visit's soak."""
KINDS = (
    "photograph", "photograph before", "photograph after", "thermal picture", "capture", "meter log", "dump",
    "document", "readings", "board", "report", SOAK_LOG,
)  # fmt: skip
PLACES = "photograph places"
"""Where parts are on a photograph: made on a page, not brought as a file."""


class Attachment(AppendOnly):
    """A file by its content."""

    sha256 = models.CharField(max_length=64, unique=True)
    size = models.BigIntegerField()
    media_type = models.CharField(max_length=100)


class FilingQuerySet(models.QuerySet["Filing"]):
    """Named questions."""

    def standing(self) -> FilingQuerySet:
        """Filings that nothing supersedes and nobody took away."""
        return self.filter(superseded_by__isnull=True, withdrawn=False)


class Filing(AppendOnly):
    """
    Where a file belongs; a later filing may supersede it, also by one that withdraws it.

    Args:
        name: As it was called when it came; never used as a path.
        kind: One of KINDS, or PLACES.
    """

    attachment = models.ForeignKey(Attachment, on_delete=models.PROTECT, related_name="filings")
    name = models.CharField(max_length=200)
    kind = models.CharField(max_length=30)
    caption = models.TextField(blank=True, default="")
    object = models.ForeignKey(
        "store.CollectionObject", on_delete=models.PROTECT, related_name="filings", null=True, blank=True
    )
    visit = models.ForeignKey("store.Visit", on_delete=models.PROTECT, related_name="filings", null=True, blank=True)
    entry = models.ForeignKey(
        "store.VisitEntry", on_delete=models.PROTECT, related_name="filings", null=True, blank=True
    )
    proposal = models.ForeignKey(
        "store.Proposal", on_delete=models.PROTECT, related_name="filings", null=True, blank=True
    )
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    withdrawn = models.BooleanField(default=False)

    objects = FilingQuerySet.as_manager()
