"""What is on display: objects, what wears in them, what was done to them, and the spares."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from kilter.planning.display.stretches import Days, Stretch, common
from kilter.planning.display.usage import DAYS, Count


@dataclass(frozen=True)
class Renewed:
    """Parts of a kind that were renewed on a day; how many of them had failed, None where nobody wrote it down."""

    kind: str
    count: int
    day: date
    failed: int | None = None


@dataclass(frozen=True)
class Climate:
    """What the room was on a day; None for not read. [degC, % relative humidity]"""

    day: date
    celsius: float | None
    humidity: float | None


@dataclass(frozen=True)
class DisplayObject:
    """
    One object on display.

    Args:
        number: Of the object.
        title: For people.
        since: First day on display.
        made: Year in which it was made; None where nobody knows.
        hours_a_year, switch_ons_a_year: As planned; None where nobody said.
        hours_before, switch_ons_before: Before it came on display; None where nobody knows.
        warmth: Of its parts above the room, None where nobody measured. [K]
        parts: Places by kind of wear.
        renewed: Parts renewed; all others are taken as original.
        counts: Of its hour meter and tally.
        climate: Of the room.
        done: Last day of every inspection.
        again: Days by which somebody who inspected wants it done again, sooner than usual.
        stretches: What was counted, by 'hours' and 'switch_ons', where it is told so and not by `counts`.
        rests: Stretches since `since` in which it was not on display.
    """

    number: str
    title: str
    since: date
    made: int | None
    hours_a_year: float | None
    switch_ons_a_year: float | None
    hours_before: float | None
    switch_ons_before: float | None
    warmth: float | None
    parts: Mapping[str, int]
    renewed: tuple[Renewed, ...] = ()
    counts: tuple[Count, ...] = ()
    climate: tuple[Climate, ...] = ()
    done: Mapping[str, date] = field(default_factory=dict)
    again: Mapping[str, date] = field(default_factory=dict)
    stretches: Mapping[str, tuple[Stretch, ...]] | None = None
    rests: tuple[Days, ...] = ()

    def shown_years(self, first: date, end: date) -> float:
        """Years on display from a day, not before `since`, until another."""
        first = max(first, self.since)
        days = (end - first).days - sum(common((first, end), rest) for rest in self.rests)
        return max(0.0, days / DAYS)

    def shown(self, today: date) -> tuple[Days, ...]:
        """Stretches on display until a day."""
        starts = [self.since, *(end for _, end in self.rests)]
        return tuple(zip(starts, [*(first for first, _ in self.rests), today], strict=True))


@dataclass(frozen=True)
class Shelf:
    """Spares of a kind: here, in a store that fills the shelves of so many houses alike, and the days both take."""

    here: int
    store: int
    houses: int
    fetch_days: float
    buy_days: float


@dataclass(frozen=True)
class Seen:
    """Failures of a kind that comes by chance, and the hours under power of all such parts together. [h]"""

    failures: int
    hours: float


@dataclass(frozen=True)
class Showing:
    """Title, objects, spares by kind of wear, and what was counted of kinds that fail by chance."""

    title: str
    objects: tuple[DisplayObject, ...]
    shelves: Mapping[str, Shelf] = field(default_factory=dict)
    seen: Mapping[str, Seen] = field(default_factory=dict)
