"""
Follow a soak while it runs: ask, keep, judge, and stop looking at the first limit that is passed.

Nothing is switched here. Who follows is told at once, and the last word says why it ended.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from time import perf_counter
from typing import Protocol

import numpy as np

from kilter.measure.errors import BadInput
from kilter.planning.numbers import number
from kilter.planning.soak.channel import CHANGED, Channel
from kilter.planning.soak.schedule import Stage
from kilter.services.judge_soak import SoakVerdict, judge_soak, watched_hours
from kilter.services.read_live import Source
from kilter.signals.meter_log import MeterLog

LIMIT, CHANGE, HOURS, HAND, BLIND = "limit", "change", "hours", "by hand", "blind"
ENDINGS = (LIMIT, CHANGE, HOURS, HAND, BLIND)
"""Why it ended: a limit was passed; a change, where that was to end it; the hours are over; a person ended it; what has
limits was not seen any more."""
JUDGING_SHARE = 0.02
"""Share of the time that may go into looking for changes: a long log, which takes longer, is judged less often."""


@dataclass(frozen=True)
class Followed:
    """A channel, and the instrument with the question that reads it."""

    channel: Channel
    source: Source
    question: str


@dataclass(frozen=True)
class Row:
    """One round: hours from the first entry of the log, a value for each channel, None where there was none."""

    hours: float
    values: tuple[float | None, ...]
    note: str = ""


class Log(Protocol):
    """Where rows are kept for good before the next question."""

    def keep(self, row: Row) -> None:
        """Keeps a row; BadInput where it cannot."""


@dataclass(frozen=True)
class Outcome:
    """
    How it went.

    Args:
        ending: One of ENDINGS.
        words: Why, in one sentence.
        rows: All of the log, earlier ones among them.
        verdict: Of the log; None where no hours are in it.
    """

    ending: str
    words: str
    rows: tuple[Row, ...]
    verdict: SoakVerdict | None


@dataclass
class Follower:
    """
    A soak that is followed.

    Args:
        followed: Channels with their instruments.
        log: Keeps every row.
        told: Hears what a person has to hear at once.
        hours: To be watched in all, those of earlier rows counted in. [h]
        stages: How often to look when; ignored where `every` is given.
        every: Pause between rounds, None for that of the stages. [s]
        tries: Rounds in a row without a value after which a channel with limits counts as not seen.
        at_change: End at a lasting change as well.
        name: Of the log, for people.
        rows: Earlier rows of the same log.
    """

    followed: Sequence[Followed]
    log: Log
    told: Callable[[str], None]
    hours: float
    stages: Sequence[Stage]
    every: float | None
    tries: int
    at_change: bool = False
    name: str = "log"
    rows: list[Row] = field(default_factory=list)
    _beyond: list[int] = field(default_factory=list)
    _silent: list[int] = field(default_factory=list)
    _seen: set[str] = field(default_factory=set)
    _judge_next: float = 0.0

    def run(self, clock: Callable[[], float], wait: Callable[[float], None]) -> Outcome:
        """
        Follows until it ends; Ctrl-C ends it by hand.

        Args:
            clock: Hours from the first entry of the log. [h]
            wait: Waits so many seconds.
        """
        self._beyond, self._silent = [0] * len(self.followed), [0] * len(self.followed)
        try:
            ended = next((end for row in self.rows if (end := self._limit(row)) is not None), None)
            started = clock()
            earlier = watched_hours(np.array([row.hours * 3600 for row in self.rows]))[0]
            while ended is None and earlier + clock() - started < self.hours:
                due = clock() + self._pause(clock()) / 3600
                ended = self._round(clock)
                if ended is None:
                    left = min(due, started + self.hours - earlier) - clock()
                    wait(max(0.0, left * 3600))
            ending, words = ended or (HOURS, f"the {self.hours:g} h are over")
        except KeyboardInterrupt:
            ending, words = HAND, "it was ended by hand before its hours were over"
        return Outcome(ending, words, tuple(self.rows), self._verdict())

    def _pause(self, now: float) -> float:
        """Seconds to the next round."""
        if self.every is not None:
            return self.every
        found = next((one for one in self.stages if now < one.end), self.stages[-1])
        self._once(found.words)
        return found.every * 60

    def _round(self, clock: Callable[[], float]) -> tuple[str, str] | None:
        values: list[float | None] = []
        notes = []
        for place, one in enumerate(self.followed):
            try:
                values.append(one.source.ask_number(one.question))
                self._silent[place] = 0
            except BadInput as error:
                values.append(None)
                notes.append(f"{one.channel.name}: no value: {error.found}")
                self._silent[place] += 1
                self.told(f"{one.channel.name} gave no value ({error.found}).")
        row = Row(clock(), tuple(values), "; ".join(notes))
        try:
            self.log.keep(row)
        except BadInput as error:
            return BLIND, f"the log can no longer be written: {error.found}"
        if not self.rows:
            self.told("First values: " + ", ".join(self._said(place, value) for place, value in enumerate(values)))
        self.rows.append(row)
        return self._limit(row) or self._blind() or self._change(row.hours)

    def _said(self, place: int, value: float | None) -> str:
        channel = self.followed[place].channel
        return f"{channel.name} {'no value' if value is None else f'{value:.6g} {channel.unit}'.strip()}"

    def _limit(self, row: Row) -> tuple[str, str] | None:
        """The same rule as of `kilter.planning.soak.channel`, round by round."""
        row_of = int(number("soak", "in_a_row"))
        for place, (one, value) in enumerate(zip(self.followed, row.values, strict=True)):
            channel = one.channel
            if value is None:
                continue
            within = channel.low <= value <= channel.high
            self._beyond[place] = 0 if within else self._beyond[place] + 1
            if self._beyond[place] >= row_of:
                ends = " to ".join(f"{end:g}" if math.isfinite(end) else "any" for end in (channel.low, channel.high))
                return LIMIT, (f"{self._said(place, value)} at {row.hours:.2f} h, {row_of} times in a row beyond "
                               f"{ends} {channel.unit}".strip())  # fmt: skip
            if not within:
                self.told(f"{self._said(place, value)} is beyond its limits; once more and it stops.")
        return None

    def _blind(self) -> tuple[str, str] | None:
        limited = [math.isfinite(one.channel.low) or math.isfinite(one.channel.high) for one in self.followed]
        unseen = [one.channel.name for one, silent, has in zip(self.followed, self._silent, limited, strict=True)
                  if has and silent >= self.tries]  # fmt: skip
        if unseen or min(self._silent) >= self.tries:
            names = ", ".join(unseen) or "anything"
            return BLIND, f"no value of {names} {self.tries} times in a row: nobody watches it now"
        return None

    def _change(self, now: float) -> tuple[str, str] | None:
        if now < self._judge_next:
            return None
        began = perf_counter()
        verdict = self._verdict()
        self._judge_next = now + (perf_counter() - began) / JUDGING_SHARE / 3600
        for one in verdict.sessions[0].channels if verdict is not None else ():
            if one.verdict == CHANGED:
                words = f"{one.channel.name} {one.words}"
                if self.at_change:
                    return CHANGE, words
                self._once(f"{one.channel.name} changed", words)
        return None

    def _once(self, key: str, words: str = "") -> None:
        if key not in self._seen:
            self._seen.add(key)
            self.told(f"{words or key}.")

    def _verdict(self) -> SoakVerdict | None:
        if len(self.rows) < 2 or self.rows[-1].hours <= self.rows[0].hours:
            return None
        return judge_soak([one.channel for one in self.followed], [self._logs()])

    def _logs(self) -> list[MeterLog]:
        logs = []
        for place, one in enumerate(self.followed):
            told = [(row.hours * 3600, row.values[place]) for row in self.rows if row.values[place] is not None]
            table = np.array(told, np.float64).reshape(-1, 2)
            logs.append(MeterLog(f"{self.name}, {one.channel.name}", one.channel.unit, table[:, 0], table[:, 1]))
        return logs
