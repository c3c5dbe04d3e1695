"""Attach files to objects, visits, entries and proposals; contents are kept once and for good."""

from __future__ import annotations

from typing import IO

from kilter.measure.errors import BadInput
from kilter.store.files import FileStore
from kilter.store.journal import now, write
from kilter.store.models import Attachment, CollectionObject, Filing, Person, Proposal, Visit, VisitEntry
from kilter.store.models.attachment import KINDS, PLACES
from kilter.store.place import place
from kilter.store.verb import one_of, said, verb

ATTACH = "attach a file"
DOING = "Cannot attach the file"


def file_store() -> FileStore:
    """The files of this record."""
    return FileStore(place().files)


def keep_content(actor: Person, source: IO[bytes], media_type: str, most: int | None = None) -> Attachment:
    """
    Puts a content away and tells the record of it; within a verb. A content that is known is kept once.

    Raises:
        BadInput: It is empty or larger than allowed.
    """
    sha256, size = file_store().keep(source, most)
    found = Attachment.objects.filter(sha256=sha256).first()
    if found is not None:
        return found
    kept = Attachment.objects.create(sha256=sha256, size=size, media_type=media_type, at=now(), who=actor)
    write(actor.key, ATTACH, f"content {sha256[:12]}", rows=[kept], evidence=[sha256])
    return kept


@verb(ATTACH)
def attach(
    actor: Person,
    source: IO[bytes],
    name: str,
    kind: str,
    media_type: str,
    *,
    caption: str = "",
    about: CollectionObject | None = None,
    visit: Visit | None = None,
    entry: VisitEntry | None = None,
    proposal: Proposal | None = None,
    most: int | None = None,
) -> Filing:
    """
    Keeps a file and files it.

    Args:
        actor: Who brings it.
        source: Read to its end.
        name: As the file is called; never used as a path.
        kind: One of `kilter.store.models.attachment.KINDS`, or PLACES.
        media_type: As found by looking into the file, not as claimed.
        caption: What it shows.
        about, visit, entry, proposal: Where it belongs; what is left out follows from the rest.
        most: Largest size. [B]

    Raises:
        BadInput: It belongs nowhere, is empty or too large.
    """
    visit = visit or (entry.visit if entry else None) or (proposal.visit if proposal else None)
    about = about or (visit.object if visit else None) or (proposal.object if proposal else None)
    if about is None:
        raise BadInput(DOING, "a file that belongs nowhere", "an object, a visit or a proposal", "Say where.")
    if visit is not None and visit.object_id != about.pk:
        raise BadInput(DOING, "a visit to another object", f"a visit to {about.number}", "Choose the visit again.")
    kept = keep_content(actor, source, media_type, most)
    row = Filing.objects.create(
        attachment=kept,
        name=said(name, "name", 200, DOING) or kept.sha256[:12],
        kind=one_of(kind, "kind", (*KINDS, PLACES), DOING),
        caption=said(caption, "caption", 4000, DOING),
        object=about,
        visit=visit,
        entry=entry,
        proposal=proposal,
        at=now(),
        who=actor,
    )
    write(actor.key, ATTACH, f"object {about.number}", rows=[row], evidence=[kept.sha256])
    return row


@verb(ATTACH)
def take_file_away(actor: Person, filing: Filing, why: str) -> Filing:
    """
    Takes a file off an object; the content stays kept.

    Raises:
        BadInput: No reason, or it was taken away already.
    """
    doing = "Cannot take the file away"
    reason = said(why, "reason", 2000, doing, empty=False)
    if filing.withdrawn or Filing.objects.filter(supersedes=filing).exists():
        raise BadInput(doing, "a file that was taken away", "a file that stands", "Look at what stands now.")
    row = Filing.objects.create(
        attachment=filing.attachment, name=filing.name, kind=filing.kind, caption=reason, object=filing.object,
        visit=filing.visit, entry=filing.entry, proposal=filing.proposal, supersedes=filing, withdrawn=True, at=now(),
        who=actor,
    )  # fmt: skip
    what = f"object {filing.object.number}" if filing.object else f"file {filing.pk}"
    write(actor.key, ATTACH, what, rows=[row], why=reason)
    return row
