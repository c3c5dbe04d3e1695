"""Hours, switch-ons and the room of an object on display: written down as they were read, corrected, taken back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from kilter.measure.errors import BadInput
from kilter.store.journal import now, write
from kilter.store.models import CollectionObject, Person, RunningEntry
from kilter.store.verb import one_of, said, verb
from kilter.store.verbs.corrections import check_stands, take_back_row
from kilter.store.verbs.figures import amount_of, day_of

COUNT = "keep count on display"
DOING = "Cannot write down the hours"
METER, RAN, ROOM = RunningEntry.METER, RunningEntry.RAN, RunningEntry.ROOM
COUNTED = {"hours": "h", "switch_ons": "times"}
MOST = 10_000_000
HOURS_A_DAY = 24
LATE = 2**63
"""Stands for the key of a row that is not written yet."""


@dataclass(frozen=True)
class Ran:
    """What was read: fields as in `kilter.store.models.RunningEntry`."""

    kind: str
    day: date | None
    first: date | None = None
    hours: float | None = None
    switch_ons: float | None = None
    anew: bool = False
    celsius: float | None = None
    humidity: float | None = None
    words: str = ""


@verb(COUNT)
def write_running(
    actor: Person, about: CollectionObject, told: Ran, why: str = "", *, supersedes: RunningEntry | None = None
) -> RunningEntry:
    """
    Writes down what a meter showed, what an object did on some days, or what the room was.

    Args:
        actor: Somebody who works with objects.
        about: The object.
        told: What was read.
        why: The reason; for a correction there has to be one.
        supersedes: The entry it takes the place of.

    Raises:
        BadInput: Nothing was read, a meter goes backwards or faster than the clock, or days are told twice.
    """
    check_stands(about, supersedes, DOING)
    one_of(told.kind, "kind", RunningEntry.KINDS, DOING)
    _check_belongs(told)
    row = RunningEntry(
        object=about, kind=told.kind, day=day_of(told.day, "day", DOING), anew=told.anew, supersedes=supersedes,
        words=said(told.words, "words", 4000, DOING), at=now(), who=actor,
        why=said(why, "reason", 2000, DOING, empty=supersedes is None),
    )  # fmt: skip
    others = RunningEntry.objects.standing().filter(object=about).exclude(pk=supersedes.pk if supersedes else None)
    if row.kind == ROOM:
        row.celsius = amount_of(told.celsius, "temperature", -40, 70, "degC", DOING)
        row.humidity = amount_of(told.humidity, "humidity", 0, 100, "%", DOING)
        if row.celsius is None and row.humidity is None and not row.words:
            raise BadInput(DOING, "nothing about the room", "a temperature, a humidity or words", "Fill one in.")
    else:
        _take_counts(row, told)
        if row.kind == RAN:
            _check_days(row, list(others.filter(kind=RAN)))
        _check_meter([*others.filter(kind=METER), *([row] if row.kind == METER else [])])
    row.save()
    write(actor.key, COUNT, f"object {about.number}", rows=[row], why=row.why)
    return row


@verb(COUNT)
def take_running_back(actor: Person, entry: RunningEntry, why: str) -> RunningEntry:
    """
    Takes an entry back; it stays to be read, and no longer counts.

    Raises:
        BadInput: No reason, another entry took its place, or what is left is a meter that goes backwards.
    """
    left = RunningEntry.objects.standing().filter(object_id=entry.object_id, kind=METER).exclude(pk=entry.pk)
    _check_meter(list(left))
    return take_back_row(actor, COUNT, entry, why, DOING)


def _check_belongs(told: Ran) -> None:
    """Nothing that was typed is dropped without a word."""
    wanted = {METER: ("hours", "switch_ons", "anew"), RAN: ("hours", "switch_ons", "first"),
              ROOM: ("celsius", "humidity")}[told.kind]  # fmt: skip
    for name in ("hours", "switch_ons", "anew", "first", "celsius", "humidity"):
        if name not in wanted and getattr(told, name) not in (None, False):
            raise BadInput(DOING, f"'{name}' with '{told.kind}'", f"{', '.join(wanted)} with that kind",
                           "Write it down as an entry of its own, or choose the other kind.")  # fmt: skip


def _take_counts(row: RunningEntry, told: Ran) -> None:
    row.hours = amount_of(told.hours, "hours", 0, MOST, "h", DOING)
    row.switch_ons = amount_of(told.switch_ons, "switch-ons", 0, MOST, "times", DOING)
    if row.hours is None and row.switch_ons is None:
        raise BadInput(DOING, "neither hours nor switch-ons", "one of them at least; 0 where it did not run",
                       "Fill in what was counted, and leave out what was not.")  # fmt: skip
    if row.kind == RAN:
        row.first = day_of(told.first or told.day, "first day", DOING)


def _check_days(row: RunningEntry, others: list[RunningEntry]) -> None:
    assert row.first is not None
    if row.first > row.day:
        raise BadInput(DOING, f"{row.first} to {row.day}", "a first day before the last one", "Correct the days.")
    most = HOURS_A_DAY * ((row.day - row.first).days + 1)
    if row.hours is not None and row.hours > most:
        raise BadInput(DOING, f"{row.hours:g} h from {row.first} to {row.day}", f"at most {most} h in these days",
                       "Correct the hours or the days.")  # fmt: skip
    for one in others:
        assert one.first is not None
        twice = any(getattr(row, name) is not None and getattr(one, name) is not None for name in COUNTED)
        if twice and one.first <= row.day and row.first <= one.day:
            raise BadInput(DOING, f"days within {one.first} to {one.day}, which are told already",
                           "days that nobody told yet", "Correct the entry that tells them.")  # fmt: skip


def _check_meter(rows: list[RunningEntry]) -> None:
    """A meter grows, and no faster than the clock, unless it counts anew."""
    in_order = sorted(rows, key=lambda one: (one.day, one.pk or LATE))
    for name, unit in COUNTED.items():
        for one, after in pairwise(row for row in in_order if getattr(row, name) is not None):
            if not after.anew:
                _check_grows(one, after, name, unit)


def _check_grows(one: RunningEntry, after: RunningEntry, name: str, unit: str) -> None:
    low, high = getattr(one, name), getattr(after, name)
    if high < low:
        raise BadInput(DOING, f"{high:g} {unit} on {after.day} after {low:g} on {one.day}",
                       "a meter that never goes backwards", "Correct it, or say that the meter "
                       "counts anew.")  # fmt: skip
    days = (after.day - one.day).days + 1
    if name == "hours" and high - low > HOURS_A_DAY * days:
        raise BadInput(DOING, f"{high - low:g} h from {one.day} to {after.day}", f"at most {HOURS_A_DAY * days} h",
                       "Read the meter again, or say that it counts anew.")  # fmt: skip
