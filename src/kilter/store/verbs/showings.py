"""Put an object on display, change what was written about it, take it off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from kilter.measure.errors import BadInput
from kilter.store.journal import now, write
from kilter.store.models import CollectionObject, DisplayPeriod, Person
from kilter.store.verb import said, verb
from kilter.store.verbs.corrections import check_stands, take_back_row
from kilter.store.verbs.figures import amount_of, day_of

SHOW = "put on display"
DOING = "Cannot write down the display"
BOUNDS: Mapping[str, tuple[float, float, str]] = {
    "hours_a_week": (0, 168, "h"), "switch_ons_a_week": (0, 10_000, "times"), "hours_before": (0, 500_000, "h"),
    "switch_ons_before": (0, 10_000_000, "times"), "warmth": (0, 100, "K"),
}  # fmt: skip
"""Least, most and unit of each number."""


@dataclass(frozen=True)
class Showing:
    """
    What is written about a stretch on display: fields as in `kilter.store.models.DisplayPeriod`.

    Args:
        figures: By the names of BOUNDS; what is missing is not known.
    """

    begin: date | None
    end: date | None = None
    place: str = ""
    conditions: str = ""
    figures: Mapping[str, float | None] | None = None


@verb(SHOW)
def show(
    actor: Person, about: CollectionObject, told: Showing, why: str = "", *, supersedes: DisplayPeriod | None = None
) -> DisplayPeriod:
    """
    Writes down a stretch on display, or corrects one: also its end is told so.

    Args:
        actor: A repairer or registrar.
        about: The object.
        told: The stretch.
        why: The reason; for a correction there has to be one.
        supersedes: The entry it takes the place of.

    Raises:
        BadInput: A day or number that cannot be, or two stretches at once.
    """
    check_stands(about, supersedes, DOING)
    begin = day_of(told.begin, "first day", DOING, ahead=True)
    end = day_of(told.end, "last day", DOING, ahead=True) if told.end else None
    if end is not None and end < begin:
        raise BadInput(DOING, f"an end on {end}, before {begin}", "an end after the first day", "Correct the days.")
    _check_alone(about, begin, end, supersedes)
    reason = said(why, "reason", 2000, DOING, empty=supersedes is None)
    given = told.figures or {}
    row = DisplayPeriod.objects.create(
        object=about, begin=begin, end=end, place=said(told.place, "place", 200, DOING),
        conditions=said(told.conditions, "conditions", 4000, DOING), supersedes=supersedes, why=reason, at=now(),
        who=actor, **{name: amount_of(given.get(name), name, *bounds, DOING) for name, bounds in BOUNDS.items()},
    )  # fmt: skip
    write(actor.key, SHOW, f"object {about.number}", rows=[row], why=reason)
    return row


@verb(SHOW)
def take_showing_back(actor: Person, period: DisplayPeriod, why: str) -> DisplayPeriod:
    """
    Takes back what was written of a stretch that never was.

    Raises:
        BadInput: No reason, or another entry took its place.
    """
    return take_back_row(actor, SHOW, period, why, DOING)


def _check_alone(about: CollectionObject, begin: date, end: date | None, earlier: Any) -> None:
    for one in DisplayPeriod.objects.standing().filter(object=about).exclude(pk=earlier.pk if earlier else None):
        if (one.end is None or one.end > begin) and (end is None or one.begin < end):
            until = one.end or "now"
            raise BadInput(DOING, f"days within {one.begin} to {until}, which are told already",
                           "stretches that do not overlap", "Correct the other entry, or end it first.")  # fmt: skip
