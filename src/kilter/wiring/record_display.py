"""Objects on display from the record: what the forecast and the list of what is due rest on."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date
from itertools import pairwise

from kilter.planning.display.models import wear_kinds, wear_of_part
from kilter.planning.display.showing import Climate, DisplayObject, Renewed, Showing
from kilter.planning.display.stretches import Days, Meter, Stretch, common, stretches_of_meter
from kilter.planning.display.usage import WEEKS
from kilter.store.models import (
    CollectionObject,
    DisplayInspection,
    DisplayPeriod,
    PartsRenewed,
    Repair,
    RunningEntry,
    WearingParts,
)
from kilter.wiring.record_bench import board_of

TITLE = "On display"
YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")
REFERENCES = re.compile(r"[\s,;+&]+")
COUNTED = ("hours", "switch_ons")

_board_parts: dict[str, Mapping[str, str]] = {}


def showing_of(today: date) -> Showing:
    """Everything that is on display on a day, by number."""
    periods = DisplayPeriod.objects.standing().filter(begin__lte=today).exclude(end__lte=today)
    rows = CollectionObject.objects.filter(pk__in=periods.values("object_id")).select_related("board")
    return Showing(TITLE, tuple(display_object(one, today) for one in rows.order_by("number")))


def display_object(one: CollectionObject, today: date) -> DisplayObject:
    """
    An object as its rows tell it.

    Its first stretch on display begins the count; in the gaps between stretches it rests.

    Args:
        one: With a stretch on display that has begun.
        today: The day.
    """
    told = DisplayPeriod.objects.standing().filter(object=one, begin__lte=today).order_by("begin")
    periods = list(told)
    first, last = periods[0], periods[-1]
    inspected = list(DisplayInspection.objects.standing().filter(object=one).order_by("day", "pk"))
    done = {row.key: row.day for row in inspected if row.outcome != DisplayInspection.UNFINISHED}
    room = RunningEntry.objects.standing().filter(object=one, kind=RunningEntry.ROOM, day__lte=today)
    return DisplayObject(
        number=one.number, title=one.name, since=first.begin, made=year_made(one.made, first.begin),
        hours_a_year=_a_year(last.hours_a_week), switch_ons_a_year=_a_year(last.switch_ons_a_week),
        hours_before=first.hours_before, switch_ons_before=first.switch_ons_before, warmth=last.warmth,
        parts={kind: count for kind, count in parts_of(one).items() if count}, renewed=tuple(renewed_in(one)),
        climate=tuple(Climate(row.day, row.celsius, row.humidity) for row in room.order_by("day", "pk")), done=done,
        again=_again(inspected), stretches={what: stretches_of(one, what) for what in COUNTED},
        rests=_rests(periods, today),
    )  # fmt: skip


def parts_of(one: CollectionObject) -> dict[str, int]:
    """Places by kind of wear: counted on its board, and what somebody said goes before."""
    said = WearingParts.objects.standing().filter(object=one)
    return {**Counter(wear_on_board(one).values()), **{row.kind: row.count for row in said}}


def wear_on_board(one: CollectionObject) -> Mapping[str, str]:
    """Kind of wear of every part of its board that has one; nothing where it has no board."""
    edition = one.board.latest() if one.board else None
    if edition is None:
        return {}
    if edition.digest not in _board_parts:
        kinds = {name: wear_of_part(part.kind) for name, part in board_of(edition).parts.items()}
        _board_parts[edition.digest] = {name: kind for name, kind in kinds.items() if kind}
    return _board_parts[edition.digest]


def renewed_in(one: CollectionObject) -> Iterable[Renewed]:
    """Parts that were renewed: those somebody counted, and replaced parts whose place on the board tells their kind."""
    for row in PartsRenewed.objects.standing().filter(object=one).order_by("day", "pk"):
        yield Renewed(row.kind, row.count, row.day, row.failed)
    for repair, kinds in replaced(one):
        yield from (Renewed(kind, count, repair.at.date()) for kind, count in kinds.items())


def replaced(one: CollectionObject) -> list[tuple[Repair, Counter[str]]]:
    """
    Replacements that stand and that nobody counted, each with the kinds of wear that its parts have on the board.

    No kind means that the part is not on the board: somebody has to say what wore out.
    """
    kinds = wear_on_board(one)
    counted = PartsRenewed.objects.standing().filter(object=one, repair__isnull=False).values("repair_id")
    rows = Repair.objects.filter(object=one, act="replaced", superseded_by__isnull=True).exclude(pk__in=counted)
    return [
        (row, Counter(kinds[name] for name in REFERENCES.split(row.part) if name in kinds))
        for row in rows.select_related("who__personal").order_by("pk")
    ]


def stretches_of(one: CollectionObject, what: str) -> tuple[Stretch, ...]:
    """
    What was counted, of hours or switch-ons: differences of the meter, and days told one by one where no meter tells.

    Args:
        one: The object.
        what: One of COUNTED.
    """
    rows = RunningEntry.objects.standing().filter(object=one, **{f"{what}__isnull": False}).order_by("day", "pk")
    read = [Meter(row.day, getattr(row, what), row.anew) for row in rows if row.kind == RunningEntry.METER]
    by_meter = stretches_of_meter(read)
    told = [
        Stretch(row.first, _next_day(row.day), getattr(row, what))
        for row in rows
        if row.kind == RunningEntry.RAN and row.first is not None
    ]
    alone = [one for one in told if not any(common(_days(one), _days(other)) for other in by_meter)]
    return tuple(sorted((*by_meter, *alone), key=lambda one: one.first))


def year_made(words: str, since: date) -> int | None:
    """
    The year in the words of an entry; the first of several, None where there is none that can be.

    >>> year_made("about 1983", date(2024, 1, 1)), year_made("1979-81", date(2024, 1, 1)), year_made("old", date.max)
    (1983, 1979, None)
    """
    found = YEAR.search(words)
    year = int(found[0]) if found else None
    return year if year is not None and year <= since.year else None


def known_kinds() -> list[tuple[str, str]]:
    """Key and words of every kind of wear."""
    return [(kind.key, kind.words) for kind in wear_kinds().values()]


def _again(inspected: Iterable[DisplayInspection]) -> dict[str, date]:
    """Of the last inspection of each kind, whether finished or not."""
    last = {row.key: row for row in inspected}
    return {key: row.again for key, row in last.items() if row.again is not None}


def _rests(periods: list[DisplayPeriod], today: date) -> tuple[Days, ...]:
    gaps = [(one.end, after.begin) for one, after in pairwise(periods) if one.end]
    if periods[-1].end is not None and periods[-1].end < today:
        gaps.append((periods[-1].end, today))
    return tuple((first, end) for first, end in gaps if first < end)


def _a_year(a_week: float | None) -> float | None:
    return None if a_week is None else a_week * WEEKS


def _next_day(day: date) -> date:
    return date.fromordinal(day.toordinal() + 1)


def _days(one: Stretch) -> Days:
    return one.first, one.end
