"""An object of the collection, its editions, and what is said about it."""

from __future__ import annotations

from django.db import models

from kilter.store.models.append_only import AppendOnly

EDITED = ("number", "name", "kind", "made", "owner", "accession", "location", "state", "limits", "board_id")
"""What an edition of an object holds."""
STATES = ("waiting", "on the bench", "works", "display only", "resting", "gone")


class CollectionObject(models.Model):
    """
    One physical thing. The row shows its latest edition; every edition is kept beside it and in the journal.

    Args:
        number: The object number, as on the label.
        kind: What it is, in words.
        made: When, as far as known, such as 'about 1983'.
        owner: The legal owner, '' where nobody knows.
        accession: One of `kilter.planning.accession.accession_states()`, '' where nobody wrote it down.
        location: Where it stands.
        state: One of STATES.
        limits: Under what conditions it may be shown or run.
        search_text: Everything that a search looks through, folded.
    """

    number = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=200)
    kind = models.CharField(max_length=120, blank=True, default="")
    made = models.CharField(max_length=60, blank=True, default="")
    owner = models.CharField(max_length=200, blank=True, default="")
    accession = models.CharField(max_length=30, blank=True, default="", db_index=True)
    location = models.CharField(max_length=200, blank=True, default="")
    state = models.CharField(max_length=20, default="waiting", db_index=True)
    limits = models.TextField(blank=True, default="")
    board = models.ForeignKey(
        "store.KnownBoard", on_delete=models.PROTECT, related_name="specimens", null=True, blank=True
    )
    edition = models.PositiveIntegerField()
    received = models.DateTimeField()
    search_text = models.TextField(default="")

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class ObjectEdition(AppendOnly):
    """What was written about an object's identity, owner and place, at one time, by one person, for one reason."""

    object = models.ForeignKey(CollectionObject, on_delete=models.PROTECT, related_name="editions")
    edition = models.PositiveIntegerField()
    fields = models.JSONField()
    why = models.TextField(blank=True, default="")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["object", "edition"], name="object_edition_once")]


class StatementQuerySet(models.QuerySet["Statement"]):
    """Named questions."""

    def standing(self) -> StatementQuerySet:
        """Statements that nothing supersedes and nobody withdrew."""
        return self.filter(superseded_by__isnull=True, withdrawn=False)


class Statement(AppendOnly):
    """
    Something said about an object: its history, condition, hazards, why it matters, an earlier diagnosis, a note.

    Args:
        kind: One of KINDS.
        text: In words.
        source: Who or what says so: a label, a letter, a visitor, the conservator.
        reliability: 0, which tells nothing, to 1; None where it was not judged.
        when: Of what time it speaks, in words such as '1991, after the move'.
        part: The part it names, for a diagnosis or a sign seen.
        mode: The failure mode or sign it names.
        visit: During which it was written.
        withdrawn: It takes back the one it supersedes, and says why.
    """

    KINDS = ("history", "condition", "hazard", "significance", "diagnosis", "seen", "note", "open question")

    object = models.ForeignKey(CollectionObject, on_delete=models.PROTECT, related_name="statements")
    kind = models.CharField(max_length=20)
    text = models.TextField()
    source = models.CharField(max_length=200, blank=True, default="")
    reliability = models.FloatField(null=True, blank=True)
    when = models.CharField(max_length=120, blank=True, default="")
    part = models.CharField(max_length=60, blank=True, default="")
    mode = models.CharField(max_length=60, blank=True, default="")
    visit = models.ForeignKey("store.Visit", on_delete=models.PROTECT, related_name="statements", null=True, blank=True)
    supersedes = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="superseded_by", null=True, blank=True
    )
    withdrawn = models.BooleanField(default=False)

    objects = StatementQuerySet.as_manager()
