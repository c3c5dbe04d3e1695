"""What a dossier tells of an object that was on display: where, how long it ran, what was inspected, what is due."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

LEFT_OUT = "name left out"
"""Stands for the name of an inspector who is no person of the record, where no names are handed over."""
COUNTED, PLANNED, NOT_KNOWN = "counted", "planned", "not known"


@dataclass(frozen=True, slots=True)
class Ending:
    """How an entry ceased to stand: 'replaced' by a later one or 'taken back', with the reason, when and by whom."""

    kind: str
    why: str = ""
    at: str = ""
    who: str = ""


@dataclass(frozen=True, slots=True)
class ToldStretch:
    """
    A stretch of time on display.

    Args:
        begin, end: Days, ISO 8601; no end ('') while nobody wrote one down.
        hours_a_week, switch_ons_a_week: As planned; None where nobody said, 0 where it is not run.
        hours_before, switch_ons_before: Behind it on the first day; None where nobody knows.
        warmth: Of its parts above the room; None where nobody measured. [K]
        at, who: When it was written down and by whom.
        ended: None while the entry stands.
    """

    begin: str
    end: str = ""
    place: str = ""
    conditions: str = ""
    hours_a_week: float | None = None
    switch_ons_a_week: float | None = None
    hours_before: float | None = None
    switch_ons_before: float | None = None
    warmth: float | None = None
    at: str = ""
    who: str = ""
    ended: Ending | None = None


@dataclass(frozen=True, slots=True)
class ToldRunning:
    """
    What somebody read or counted.

    Args:
        kind: 'meter read', 'ran' or 'room'.
        day, first: The day, or the last and the first one; '' for none.
        hours, switch_ons: As the meter shows, or of these days alone; None for not counted.
        anew: The meter counts from here.
        celsius, humidity: Of the room; None for not read. [degC, % relative humidity]
        at, who, ended: As of a stretch.
    """

    kind: str
    day: str
    first: str = ""
    hours: float | None = None
    switch_ons: float | None = None
    anew: bool = False
    celsius: float | None = None
    humidity: float | None = None
    words: str = ""
    at: str = ""
    who: str = ""
    ended: Ending | None = None


@dataclass(frozen=True, slots=True)
class ToldInspection:
    """
    An inspection.

    Args:
        key: Of what was inspected; `what` says it in words.
        outcome: 'nothing found', 'something found' or 'not finished'.
        words: What was found.
        inspector: Who did it, where it was not whoever wrote it down.
        again: By which day it was to be done again, sooner than usual; '' for none.
        at, who, ended: As of a stretch.
    """

    key: str
    day: str
    outcome: str
    what: str = ""
    words: str = ""
    inspector: str = ""
    again: str = ""
    at: str = ""
    who: str = ""
    ended: Ending | None = None


@dataclass(frozen=True, slots=True)
class ToldRenewal:
    """
    Parts of a kind of wear that were renewed.

    Args:
        kind: Key of the kind of wear; `what` says it in words.
        count: How many.
        failed: How many of them had failed; None where nobody wrote it down.
        from_work: Nobody counted them: the work that was recorded names them, and the board tells their kind.
        at, who, ended: As of a stretch.
    """

    kind: str
    day: str
    count: int
    what: str = ""
    failed: int | None = None
    words: str = ""
    from_work: bool = False
    at: str = ""
    who: str = ""
    ended: Ending | None = None


@dataclass(frozen=True, slots=True)
class ToldWear:
    """How many parts of a kind of wear somebody said that it has; fields as of a renewal."""

    kind: str
    count: int
    what: str = ""
    words: str = ""
    at: str = ""
    who: str = ""
    ended: Ending | None = None


@dataclass(frozen=True, slots=True)
class ToldCount:
    """
    Hours or switch-ons on display.

    Args:
        what: 'hours' or 'switch_ons'.
        counted: Really counted; None where nobody counted.
        reckoned: With the days on which nobody counted; None where nobody counted enough and nobody planned.
        basis: COUNTED, PLANNED or NOT_KNOWN: what the days rest on on which nobody counted.
        before: Before it came on display; None where nobody knows.
    """

    what: str
    counted: float | None = None
    reckoned: float | None = None
    basis: str = NOT_KNOWN
    before: float | None = None


@dataclass(frozen=True, slots=True)
class ToldDue:
    """What is due by a day; `last` is '' for never, as far as anybody wrote down; `over`: its day is past, or never."""

    key: str
    words: str
    day: str
    last: str = ""
    months: int = 0
    over: bool = False


@dataclass(frozen=True, slots=True)
class ToldDisplay:
    """
    Everything that the record tells of an object on display. Entries that no longer stand are among the others.

    Args:
        day: The day on which it was asked, ISO 8601.
        shown: Whether it was ever on display until that day.
        now: Whether it is on display on that day.
        due: Soonest first; nothing while it is not on display.
        open: What could not be worked out, in words.
    """

    day: str
    shown: bool = False
    now: bool = False
    stretches: tuple[ToldStretch, ...] = ()
    counts: tuple[ToldCount, ...] = ()
    running: tuple[ToldRunning, ...] = ()
    inspections: tuple[ToldInspection, ...] = ()
    due: tuple[ToldDue, ...] = ()
    renewed: tuple[ToldRenewal, ...] = ()
    wears: tuple[ToldWear, ...] = ()
    open: tuple[str, ...] = ()

    def people(self) -> Iterator[str]:
        """Keys of the persons that it speaks of."""
        told: tuple[ToldStretch | ToldRunning | ToldInspection | ToldRenewal | ToldWear, ...] = (
            *self.stretches, *self.running, *self.inspections, *self.renewed, *self.wears,
        )  # fmt: skip
        for one in told:
            yield one.who
            if one.ended is not None:
                yield one.ended.who

    def without_names(self) -> ToldDisplay:
        """
        The same without the names of inspectors; that there was one stays to be seen.

        >>> told = ToldDisplay("", inspections=(ToldInspection("dust", "", "", inspector="A"),))
        >>> told.without_names().inspections[0].inspector
        'name left out'
        """
        told = (replace(one, inspector=LEFT_OUT) if one.inspector else one for one in self.inspections)
        return replace(self, inspections=tuple(told))
