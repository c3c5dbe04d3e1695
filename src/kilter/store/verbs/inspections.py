"""Inspections of objects on display: done and what was found, or begun and not finished."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from kilter.measure.errors import BadInput
from kilter.planning.display.due import inspection_keys
from kilter.store.journal import now, write
from kilter.store.models import CollectionObject, DisplayInspection, Person
from kilter.store.verb import one_of, said, verb
from kilter.store.verbs.corrections import check_stands, take_back_row
from kilter.store.verbs.figures import day_of
from kilter.store.verbs.running import COUNT

DOING = "Cannot write down the inspection"


@dataclass(frozen=True)
class Inspected:
    """What was done: fields as in `kilter.store.models.DisplayInspection`."""

    key: str
    day: date | None
    outcome: str
    words: str = ""
    inspector: str = ""
    again: date | None = None


@verb(COUNT)
def write_inspection(
    actor: Person, about: CollectionObject, told: Inspected, why: str = "", *,
    supersedes: DisplayInspection | None = None,
) -> DisplayInspection:  # fmt: skip
    """
    Writes down an inspection.

    Args:
        actor: Somebody who works with objects.
        about: The object.
        told: What was done.
        why: The reason; for a correction there has to be one.
        supersedes: The entry it takes the place of.

    Raises:
        BadInput: A field does not do; something was found and nobody says what.
    """
    check_stands(about, supersedes, DOING)
    day = day_of(told.day, "day", DOING)
    outcome = one_of(told.outcome, "outcome", DisplayInspection.OUTCOMES, DOING)
    words = said(told.words, "what was found", 10_000, DOING)
    if outcome != DisplayInspection.NOTHING and not words:
        raise BadInput(DOING, f"'{outcome}' without a word about it", "what was found, or why it was not finished",
                       "Write it down.")  # fmt: skip
    again = day_of(told.again, "to be done again by", DOING, ahead=True) if told.again else None
    if again is not None and again < day:
        raise BadInput(DOING, f"to be done again by {again}, before {day}", "a later day", "Correct the days.")
    row = DisplayInspection.objects.create(
        object=about, key=one_of(told.key, "what was inspected", inspection_keys(), DOING), day=day, outcome=outcome,
        words=words, inspector=said(told.inspector, "who inspected", 200, DOING), again=again, supersedes=supersedes,
        why=said(why, "reason", 2000, DOING, empty=supersedes is None), at=now(), who=actor,
    )  # fmt: skip
    write(actor.key, COUNT, f"object {about.number}", rows=[row], why=row.why)
    return row


@verb(COUNT)
def take_inspection_back(actor: Person, entry: DisplayInspection, why: str) -> DisplayInspection:
    """
    Takes an inspection back; it stays to be read, and no longer counts.

    Raises:
        BadInput: No reason, or another entry took its place.
    """
    return take_back_row(actor, COUNT, entry, why, DOING)
