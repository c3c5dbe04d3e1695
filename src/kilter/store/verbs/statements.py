"""What is said about an object: written down, corrected by a later statement, or taken back; never changed."""

from __future__ import annotations

from kilter.measure.errors import BadInput
from kilter.store.journal import now, write
from kilter.store.models import CollectionObject, Person, Statement, Visit
from kilter.store.verb import one_of, said, verb
from kilter.store.verbs.objects import find_again

WRITE = "write about an object"
DOING = "Cannot write that down"


@verb(WRITE)
def state(
    actor: Person,
    about: CollectionObject,
    kind: str,
    text: str,
    *,
    source: str = "",
    reliability: float | None = None,
    when: str = "",
    part: str = "",
    mode: str = "",
    visit: Visit | None = None,
    supersedes: Statement | None = None,
) -> Statement:
    """
    Writes something down about an object, perhaps in place of an earlier statement.

    Args:
        actor: Who writes.
        about: The object.
        kind: One of `Statement.KINDS`.
        text: In words.
        source: Who or what says so.
        reliability: 0 to 1; None where nobody judged it.
        when: Of what time it speaks.
        part: The part it names.
        mode: The failure mode or sign it names.
        visit: During which it is written.
        supersedes: The statement it corrects.

    Raises:
        BadInput: A field does not do, or the earlier statement was superseded already.
    """
    if reliability is not None and not 0.0 <= reliability <= 1.0:
        raise BadInput(DOING, f"a reliability of {reliability:g}", "0 to 1, or nothing", "Judge it anew.")
    _check_place(about, visit, supersedes)
    row = Statement.objects.create(
        object=about,
        kind=one_of(kind, "kind", Statement.KINDS, DOING),
        text=said(text, "text", 20_000, DOING, empty=False),
        source=said(source, "source", 200, DOING),
        reliability=reliability,
        when=said(when, "when", 120, DOING),
        part=said(part, "part", 60, DOING),
        mode=said(mode, "mode", 60, DOING),
        visit=visit,
        supersedes=supersedes,
        at=now(),
        who=actor,
    )
    write(actor.key, WRITE, f"object {about.number}", rows=[row])
    find_again(about)
    return row


@verb(WRITE)
def take_back(actor: Person, statement: Statement, why: str) -> Statement:
    """
    Takes a statement back; it stays to be read, and no longer counts.

    Raises:
        BadInput: No reason, or it was superseded already.
    """
    _check_place(statement.object, None, statement)
    reason = said(why, "reason", 2000, "Cannot take that back", empty=False)
    row = Statement.objects.create(
        object=statement.object, kind=statement.kind, text=reason, supersedes=statement, withdrawn=True, at=now(),
        who=actor,
    )  # fmt: skip
    write(actor.key, WRITE, f"object {statement.object.number}", rows=[row], why=reason)
    find_again(statement.object)
    return row


def _check_place(about: CollectionObject, visit: Visit | None, earlier: Statement | None) -> None:
    if visit is not None and visit.object_id != about.pk:
        raise BadInput(DOING, "a visit to another object", f"a visit to {about.number}", "Choose the visit again.")
    if earlier is None:
        return
    if earlier.object_id != about.pk:
        raise BadInput(DOING, "a statement about another object", f"one about {about.number}", "Choose it again.")
    if earlier.withdrawn or Statement.objects.filter(supersedes=earlier).exists():
        raise BadInput(DOING, "a statement that another one took the place of", "a statement that stands",
                       "Look at what stands now.")  # fmt: skip
