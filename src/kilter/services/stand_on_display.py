"""How an object on display stands on a day: hours, switch-ons, the ages of its parts, and what had to be assumed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from kilter.measure.errors import OutOfRange
from kilter.planning.display.models import Age, Use, WearKind, wear_kinds
from kilter.planning.display.showing import DisplayObject
from kilter.planning.display.stretches import rate_of_stretches
from kilter.planning.display.usage import DAYS, Rate, rate_of
from kilter.planning.numbers import number, numbers


@dataclass(frozen=True)
class Standing:
    """
    An object as it stands today.

    Args:
        thing: The object.
        hours, switch_ons: Rate and total.
        use: In a year.
        assumed: What nobody knew and was assumed, in sentences.
        climate: What of the room is beyond its bounds, in sentences.
    """

    thing: DisplayObject
    hours: Rate
    switch_ons: Rate
    use: Use
    assumed: tuple[str, ...]
    climate: tuple[str, ...]


@dataclass(frozen=True)
class Group:
    """Places of one kind in one object with the same age; the day on which they were renewed, None for originals."""

    standing: Standing
    kind: WearKind
    places: int
    age: Age
    original: bool
    day: date | None = None


def stand(thing: DisplayObject, today: date) -> Standing:
    """
    How an object stands on a day; what nobody knows is assumed and said.

    Raises:
        BadInput: Counts that cannot be.
        OutOfRange: A day before it came on display.
    """
    if today < thing.since:
        raise OutOfRange("Cannot forecast a display", f"{today} before {thing.number} came on display on {thing.since}",
                         "a day since then", "Check the day, or 'since'.")  # fmt: skip
    hours = _rate(thing, "hours", thing.hours_a_year, today)
    switched = _rate(thing, "switch_ons", thing.switch_ons_a_year, today)
    room = numbers("display", "room")
    read = [one.celsius for one in thing.climate if one.celsius is not None]
    celsius = sum(read) / len(read) if read else room["celsius"]
    warmth = number("display", "warmth") if thing.warmth is None else thing.warmth
    use = Use(hours.a_year, switched.a_year, celsius + warmth)
    return Standing(thing, hours, switched, use, tuple(_assumed(thing, hours, switched, read=bool(read))),
                    tuple(_beyond(thing, room)))  # fmt: skip


def _rate(thing: DisplayObject, what: str, planned: float | None, today: date) -> Rate:
    assumed = number("display", f"{what}_a_year")
    if thing.stretches is None:
        return rate_of(thing.counts, what, planned, thing.since, today, assumed=assumed)
    return rate_of_stretches(thing.stretches.get(what, ()), planned, thing.shown(today), today, assumed=assumed)


def _assumed(thing: DisplayObject, hours: Rate, switched: Rate, *, read: bool) -> list[str]:
    told = []
    if not hours.counted:
        told.append("hours as planned, not counted" if hours.known else
                    f"{hours.a_year:.0f} h a year, neither counted nor planned")  # fmt: skip
    if not switched.counted:
        told.append("switch-ons as planned, not counted" if switched.known else
                    f"switched on {switched.a_year:.0f} times a year, neither counted nor planned")  # fmt: skip
    if thing.hours_before is None:
        told.append(f"{number('display', 'hours_before'):.0f} h before it came on display")
    if thing.switch_ons_before is None:
        told.append(f"switched on {number('display', 'switch_ons_before'):.0f} times before")
    if thing.made is None:
        told.append(f"{number('display', 'age_years'):.0f} years old when it came on display")
    if thing.warmth is None:
        told.append(f"parts {number('display', 'warmth'):.0f} K warmer than the room")
    if not read:
        told.append(f"a room of {numbers('display', 'room')['celsius']:.0f} degC")
    return told


def _beyond(thing: DisplayObject, room: Mapping[str, float]) -> list[str]:
    told = []
    for one in thing.climate:
        if one.celsius is not None and not room["lowest_celsius"] <= one.celsius <= room["highest_celsius"]:
            told.append(f"{one.celsius:g} degC on {one.day}")
        if one.humidity is not None and not room["lowest_humidity"] <= one.humidity <= room["highest_humidity"]:
            told.append(f"{one.humidity:g} % relative humidity on {one.day}")
    return told


def groups(standing: Standing, today: date) -> list[Group]:
    """Places by kind and age: those renewed, and the others, which count as original."""
    thing, found = standing.thing, []
    for key, places in thing.parts.items():
        kind, left = wear_kinds()[key], places
        for one in sorted((r for r in thing.renewed if r.kind == key), key=lambda r: r.day, reverse=True):
            count = min(one.count, left)
            left -= count
            if count:
                age = _since(standing, one.day, today)
                found.append(Group(standing, kind, count, age, original=False, day=one.day))
        if left:
            found.append(Group(standing, kind, left, original_age(standing, today), original=True))
    return found


def _since(standing: Standing, day: date, today: date) -> Age:
    """Age of a part that was new on a day."""
    shown = standing.thing.shown_years(day, today)
    return Age(min(standing.hours.so_far, standing.use.hours * shown), standing.use.switch_ons * shown,
               max(0.0, (today - day).days / DAYS))  # fmt: skip


def original_age(standing: Standing, day: date) -> Age:
    """Age of an original part on a day, today or before; what nobody knows is assumed."""
    thing = standing.thing
    hours = number("display", "hours_before") if thing.hours_before is None else thing.hours_before
    before = thing.switch_ons_before
    switched = number("display", "switch_ons_before") if before is None else before
    shown = thing.shown_years(thing.since, day)
    lived = number("display", "age_years") + max(0.0, (day - thing.since).days / DAYS)
    years = day.year - thing.made if thing.made is not None else lived
    ran = min(standing.hours.so_far, standing.use.hours * shown)
    times = min(standing.switch_ons.so_far, standing.use.switch_ons * shown)
    return Age(hours + ran, switched + times, float(max(0, years)))
