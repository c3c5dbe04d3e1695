"""What corrects or takes back a row that is told once: the earlier row stands, and is about the same object."""

from __future__ import annotations

from typing import Any, TypeVar

from kilter.measure.errors import BadInput
from kilter.store.journal import now, write
from kilter.store.models import CollectionObject, Person
from kilter.store.models.display import ToldOnce
from kilter.store.verb import said

Row = TypeVar("Row", bound=ToldOnce)


def check_stands(about: CollectionObject, earlier: Any, doing: str) -> None:
    """
    Lets a correction on whose earlier row stands.

    Args:
        about: The object.
        earlier: What would be superseded; None for nothing.
        doing: What was being done, for the message.

    Raises:
        BadInput: It is about another object, or another row took its place.
    """
    if earlier is None:
        return
    if earlier.object_id != about.pk:
        raise BadInput(doing, "an entry about another object", f"one about {about.number}", "Choose it again.")
    if earlier.withdrawn or type(earlier).objects.filter(supersedes=earlier).exists():
        raise BadInput(doing, "an entry that another one took the place of", "an entry that stands",
                       "Look at what stands now.")  # fmt: skip


def take_back_row(actor: Person, verb: str, earlier: Row, why: str, doing: str) -> Row:
    """
    Takes a row back by a later one with the same fields; within a verb.

    Raises:
        BadInput: No reason, or another row took its place.
    """
    about = earlier.object
    check_stands(about, earlier, doing)
    reason = said(why, "reason", 2000, doing, empty=False)
    kept = {
        field.attname: getattr(earlier, field.attname)
        for field in earlier._meta.concrete_fields
        if field.name not in ("id", "at", "who", "supersedes", "withdrawn", "why")
    }
    row = type(earlier).objects.create(
        **kept, supersedes=earlier, withdrawn=True, why=reason, at=now(), who=actor
    )
    write(actor.key, verb, f"object {about.number}", rows=[row], why=reason)
    return row
