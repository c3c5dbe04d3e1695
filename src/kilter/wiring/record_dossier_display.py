"""What the record tells of an object on display, as a dossier hands it over."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.planning.display.due import inspections
from kilter.planning.display.models import wear_kinds
from kilter.records.dossier_display import (
    NOT_KNOWN,
    Ending,
    ToldCount,
    ToldDisplay,
    ToldDue,
    ToldInspection,
    ToldRenewal,
    ToldRunning,
    ToldStretch,
    ToldWear,
)
from kilter.services.plan_display import advise, dates_of
from kilter.services.stand_on_display import Standing, stand
from kilter.store.journal import moment
from kilter.store.models import (
    CollectionObject,
    DisplayInspection,
    DisplayPeriod,
    PartsRenewed,
    RunningEntry,
    WearingParts,
)
from kilter.store.models.display import ToldOnce
from kilter.wiring.display_dates import YEARS
from kilter.wiring.record_display import COUNTED, display_object, replaced, stretches_of

REPLACED, TAKEN_BACK = "replaced", "taken back"
PERIOD = ("place", "conditions", "hours_a_week", "switch_ons_a_week", "hours_before", "switch_ons_before", "warmth")
RUNNING = ("kind", "hours", "switch_ons", "anew", "celsius", "humidity", "words")
INSPECTION = ("key", "outcome", "words", "inspector")


def display_told(about: CollectionObject, today: date) -> ToldDisplay:
    """
    Everything about it on display; what cannot be worked out is told as open.

    Args:
        about: The object, whether it was ever on display or not.
        today: The day, UTC.
    """
    begun = DisplayPeriod.objects.standing().filter(object=about, begin__lte=today)
    shown, there = begun.exists(), begun.exclude(end__lte=today).exists()
    standing = None
    due: tuple[ToldDue, ...] = ()
    unknown: tuple[str, ...] = ()
    try:
        standing = stand(display_object(about, today), today) if shown else None
        counts = tuple(_counts(about, standing))
        due = tuple(_due(standing, today)) if standing is not None and there else ()
        work = tuple(_from_work(about))
    except BadInput as error:  # a board that cannot be read, or counts that cannot be: nothing else is told for them
        counts, work, unknown = (), (), (str(error),)
    return ToldDisplay(
        today.isoformat(), shown, there, tuple(_stretches(about)), counts, tuple(_running(about)),
        tuple(_inspections(about)), due, (*_renewed(about), *work), tuple(_wears(about)), unknown,
    )  # fmt: skip


def _rows(model: type[ToldOnce], about: CollectionObject, *order: str) -> Iterable[tuple[Any, dict[str, Any]]]:
    """Every entry with when, by whom and how it ended; a taking back is told at what it took back."""
    found = model.objects.filter(object=about, withdrawn=False).select_related("who", "superseded_by__who")
    for row in found.order_by(*order, "pk"):
        later = getattr(row, "superseded_by", None)
        ended = None if later is None else Ending(
            TAKEN_BACK if later.withdrawn else REPLACED, later.why, moment(later.at), later.who.key
        )
        yield row, {"at": moment(row.at), "who": row.who.key, "ended": ended}


def _fields(row: Any, names: Iterable[str]) -> dict[str, Any]:
    return {name: getattr(row, name) for name in names}


def _stretches(about: CollectionObject) -> Iterable[ToldStretch]:
    for row, more in _rows(DisplayPeriod, about, "begin"):
        yield ToldStretch(row.begin.isoformat(), _day(row.end), **_fields(row, PERIOD), **more)


def _running(about: CollectionObject) -> Iterable[ToldRunning]:
    for row, more in _rows(RunningEntry, about, "day"):
        yield ToldRunning(day=row.day.isoformat(), first=_day(row.first), **_fields(row, RUNNING), **more)


def _inspections(about: CollectionObject) -> Iterable[ToldInspection]:
    for row, more in _rows(DisplayInspection, about, "day"):
        yield ToldInspection(day=row.day.isoformat(), what=_inspected(row.key), again=_day(row.again),
                             **_fields(row, INSPECTION), **more)  # fmt: skip


def _renewed(about: CollectionObject) -> Iterable[ToldRenewal]:
    for row, more in _rows(PartsRenewed, about, "day"):
        yield ToldRenewal(row.kind, row.day.isoformat(), row.count, _wear(row.kind), row.failed, row.words, **more)


def _from_work(about: CollectionObject) -> Iterable[ToldRenewal]:
    """Parts that nobody counted, and that the words of a repair name."""
    for repair, kinds in replaced(about):
        for kind, count in kinds.items():
            yield ToldRenewal(kind, repair.at.date().isoformat(), count, _wear(kind), None, repair.part, True,
                              moment(repair.at), repair.who.key)  # fmt: skip


def _wears(about: CollectionObject) -> Iterable[ToldWear]:
    for row, more in _rows(WearingParts, about, "kind"):
        yield ToldWear(row.kind, row.count, _wear(row.kind), row.words, **more)


def _counts(about: CollectionObject, standing: Standing | None) -> Iterable[ToldCount]:
    for what in COUNTED:
        if standing is None:
            told = [one.ticks for one in stretches_of(about, what)]
            yield ToldCount(what, sum(told) if told else None)
            continue
        rate = getattr(standing, what)
        yield ToldCount(what, rate.told, rate.so_far if rate.known else None, rate.basis if rate.known else NOT_KNOWN,
                        getattr(standing.thing, f"{what}_before"))  # fmt: skip


def _due(standing: Standing, today: date) -> Iterable[ToldDue]:
    for one in dates_of([standing], advise([standing], today), today, YEARS):
        yield ToldDue(one.key, one.words, one.day.isoformat(), _day(one.last), one.months, one.over)


def _inspected(key: str) -> str:
    """Words of what was inspected; the key where the data no longer has it."""
    kind = key.removeprefix("look at ")
    if kind != key:
        return f"Look at: {_wear(kind)}"
    return next((str(row["words"]) for row in inspections() if row["key"] == key), key)


def _wear(kind: str) -> str:
    return str(table("planning/wear")[kind]["words"]) if kind in wear_kinds() else kind


def _day(day: date | None) -> str:
    return day.isoformat() if day is not None else ""
