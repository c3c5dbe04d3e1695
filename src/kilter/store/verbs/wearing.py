"""What wears in an object, how many of each kind, and which parts were renewed when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from kilter.measure.errors import BadInput
from kilter.planning.display.models import wear_kinds
from kilter.store.journal import now, write
from kilter.store.models import CollectionObject, PartsRenewed, Person, Repair, WearingParts
from kilter.store.verb import one_of, said, verb
from kilter.store.verbs.corrections import check_stands, take_back_row
from kilter.store.verbs.figures import day_of, whole_of
from kilter.store.verbs.repairs import REPAIR
from kilter.store.verbs.showings import SHOW

MOST_PARTS = 10_000
DOING, RENEWING = "Cannot write down what wears", "Cannot write down what was renewed"


@verb(SHOW)
def set_wearing(actor: Person, about: CollectionObject, kind: str, count: int, words: str = "") -> WearingParts:
    """
    Says how many parts of a kind of wear stand in an object, in place of what was said before.

    Args:
        actor: A repairer or registrar.
        about: The object.
        kind: A key of `kilter.planning.display.models.wear_kinds()`.
        count: How many; 0 says that there are none, whatever the board has.
        words: Which, or how one knows.

    Raises:
        BadInput: An unknown kind, or a count that cannot be.
    """
    one_of(kind, "kind of wear", tuple(wear_kinds()), DOING)
    whole_of(count, "how many", MOST_PARTS, DOING)
    earlier = WearingParts.objects.standing().filter(object=about, kind=kind).first()
    row = WearingParts.objects.create(
        object=about, kind=kind, count=count, words=said(words, "words", 2000, DOING), supersedes=earlier, at=now(),
        who=actor,
    )  # fmt: skip
    write(actor.key, SHOW, f"object {about.number}", rows=[row])
    return row


@verb(SHOW)
def take_wearing_back(actor: Person, row: WearingParts, why: str) -> WearingParts:
    """
    Takes it back; what is counted on the board holds again.

    Raises:
        BadInput: No reason, or another entry took its place.
    """
    return take_back_row(actor, SHOW, row, why, DOING)


@dataclass(frozen=True)
class Renewal:
    """What was renewed: fields as in `kilter.store.models.PartsRenewed`."""

    kind: str
    day: date | None
    count: int
    failed: int | None = None
    words: str = ""
    repair: Repair | None = None


@verb(REPAIR)
def write_renewal(
    actor: Person, about: CollectionObject, told: Renewal, why: str = "", *, supersedes: PartsRenewed | None = None
) -> PartsRenewed:
    """
    Writes down how many parts of a kind of wear were renewed, and how many of them had failed.

    Args:
        actor: A repairer.
        about: The object.
        told: What was renewed; it goes before what is gathered from the words of the repair it names.
        why: The reason; for a correction there has to be one.
        supersedes: The entry it takes the place of.

    Raises:
        BadInput: A count that cannot be, or a repair of another object.
    """
    check_stands(about, supersedes, RENEWING)
    if told.repair is not None and told.repair.object_id != about.pk:
        raise BadInput(RENEWING, "a repair of another object", f"one of {about.number}", "Choose it again.")
    one_of(told.kind, "kind of wear", tuple(wear_kinds()), RENEWING)
    count, failed = whole_of(told.count, "how many", MOST_PARTS, RENEWING), told.failed
    if not count:
        raise BadInput(RENEWING, "no parts", "one part at least", "Take the entry back if nothing was renewed.")
    if whole_of(failed, "of which had failed", MOST_PARTS, RENEWING) is not None and (failed or 0) > count:
        raise BadInput(RENEWING, f"{failed} failed of {count}", f"at most {count}", "Correct the counts.")
    row = PartsRenewed.objects.create(
        object=about, repair=told.repair, kind=told.kind, day=day_of(told.day, "day", RENEWING), count=count,
        failed=failed, words=said(told.words, "words", 2000, RENEWING), supersedes=supersedes,
        why=said(why, "reason", 2000, RENEWING, empty=supersedes is None), at=now(), who=actor,
    )  # fmt: skip
    write(actor.key, REPAIR, f"object {about.number}", rows=[row], why=row.why)
    return row


@verb(REPAIR)
def take_renewal_back(actor: Person, row: PartsRenewed, why: str) -> PartsRenewed:
    """
    Takes a renewal back.

    Raises:
        BadInput: No reason, or another entry took its place.
    """
    return take_back_row(actor, REPAIR, row, why, RENEWING)
