"""Judge a soak from its logs: what stopped it, what changed, what drifts, and what its hours prove."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from kilter.measure.errors import BadInput
from kilter.planning.numbers import number
from kilter.planning.soak.channel import OPEN, STEADY, STOP, VERDICTS, Channel, Judged, judge
from kilter.planning.soak.proved import Bound, least_success
from kilter.planning.soak.schedule import proofs
from kilter.signals.meter_log import Floats, MeterLog

DOING = "Cannot judge the soak"


@dataclass(frozen=True)
class Session:
    """
    One log: from one switching on to the next switching off.

    Args:
        source: Name of the file.
        hours: Watched, gaps left out. [h]
        gaps: Hours in which nobody watched. [h]
        channels: Each channel judged.
        missing: Channels of the plan that the log does not have.
        warnings: Sentences about the file.
    """

    source: str
    hours: float
    gaps: float
    channels: tuple[Judged, ...]
    missing: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class SoakVerdict:
    """
    The whole soak.

    Args:
        sessions: In the order in which they were given.
        hours: Watched in all of them. [h]
        failures: Sessions in which a limit was passed, and what a person counted besides.
        proofs: Least mean time between failures that the hours prove.
        least_switch_on: Least chance that switching on goes well that as many switch-ons without failure prove, at the
            higher of the usual levels; NaN after a failure.
        open: What stays unanswered, in sentences.
    """

    sessions: tuple[Session, ...]
    hours: float
    failures: int
    proofs: tuple[Bound, ...]
    least_switch_on: float
    open: tuple[str, ...]

    @property
    def worst(self) -> str:
        """The worst verdict of any channel, or that one cannot tell."""
        found = [one.verdict for session in self.sessions for one in session.channels]
        found += [OPEN for session in self.sessions if session.missing]
        return min(found, key=VERDICTS.index, default=OPEN)

    def plain(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "verdict": self.worst, "hours": self.hours, "failures": self.failures,
            "proofs": [{"confidence": one.confidence, "least_mtbf_hours": one.least} for one in self.proofs],
            "least_switch_on": self.least_switch_on, "open": list(self.open),
            "sessions": [{"source": one.source, "hours": one.hours, "gaps": one.gaps, "missing": list(one.missing),
                          "warnings": list(one.warnings), "channels": [_plain(row) for row in one.channels]}
                         for one in self.sessions],
        }  # fmt: skip


def judge_soak(channels: Sequence[Channel], logs: Sequence[Sequence[MeterLog]], failures: int = 0) -> SoakVerdict:
    """
    Judges it.

    Args:
        channels: With limits; none for every column of the logs without any.
        logs: Columns of one file for each session, times from switching on.
        failures: That a person saw and no channel shows.

    Raises:
        BadInput: No log with times, or a column whose unit is not that of its channel.
    """
    sessions = tuple(_session(channels, one) for one in logs)
    hours = math.fsum(one.hours for one in sessions)
    if hours <= 0:
        raise BadInput(DOING, "no hours in the logs", "logs with a time beside every value", "Log with times.")
    stopped = sum(any(row.verdict == STOP for row in one.channels) for one in sessions)
    proved = proofs(hours, stopped + failures)
    level = max(one.confidence for one in proved)
    switched = least_success(len(sessions), level) if not stopped + failures else math.nan
    return SoakVerdict(sessions, hours, stopped + failures, proved, switched, tuple(_open(sessions)))


def _session(channels: Sequence[Channel], columns: Sequence[MeterLog]) -> Session:
    judged, missing = [], []
    wanted = channels or [Channel(_column(one), unit=one.unit) for one in columns]
    for channel in wanted:
        log = log_of(channel, columns, alone=[one.quantity for one in wanted].count(channel.quantity) == 1)
        if log is None or not len(log.values):
            missing.append(channel.name)
            continue
        if channel.unit and log.unit and channel.unit != log.unit:
            raise BadInput(DOING, f"values in {log.unit} for {channel.name} in {log.source}",
                           f"values in {channel.unit}", "Check the column, or the plan.")  # fmt: skip
        judged.append(judge(channel, log.seconds / 3600, log.values))
    longest = max(columns, key=lambda one: len(one.seconds))
    watched, gaps = watched_hours(longest.seconds)
    said = tuple(dict.fromkeys(words for one in columns for words in one.warnings))
    return Session(longest.source.rsplit(", ", 1)[0], watched, gaps, tuple(judged), tuple(missing), said)


def _column(log: MeterLog) -> str:
    return log.source.rsplit(", ", 1)[-1]


def log_of(channel: Channel, columns: Sequence[MeterLog], *, alone: bool = False) -> MeterLog | None:
    """
    The column that is named like the channel, units in brackets aside; None where there is none.

    A log of 'kilter live log' names its columns by quantity: that will do for a channel that is alone with its own.
    """
    named = next((one for one in columns if _name(_column(one)) == _name(channel.name)), None)
    if named is None and alone and channel.quantity:
        return next((one for one in columns if _name(_column(one)) == channel.quantity), None)
    return named


def _name(words: str) -> str:
    return words.split("(")[0].split("[")[0].strip().lower()


def watched_hours(seconds: Floats) -> tuple[float, float]:
    """
    Hours from the first to the last value, and of those the ones in pauses far longer than usual.

    Args:
        seconds: Of the values, ascending, shape (n,). [s]
    """
    if len(seconds) < 2:
        return 0.0, 0.0
    pauses = np.diff(seconds)
    # usual where it is: stages log at different paces, so each pause is held against its neighbours
    usual = np.array([float(np.median(pauses[max(0, i - 5) : i + 6])) for i in range(len(pauses))])
    lost = float(pauses[pauses > number("soak", "gap") * np.maximum(usual, 1e-9)].sum())
    return (float(seconds[-1] - seconds[0]) - lost) / 3600, lost / 3600


def _open(sessions: Sequence[Session]) -> list[str]:
    told = []
    for one in sessions:
        told += [f"{one.source}: nothing was logged for {name}" for name in one.missing]
        told += [f"{one.source}: {row.channel.name}: {row.words}" for row in one.channels if row.verdict == OPEN]
        told += [f"{one.source}: {row.channel.name} has no limits, so nothing would have stopped the soak"
                 for row in one.channels if row.verdict == STEADY and math.isinf(row.channel.low)
                 and math.isinf(row.channel.high)]  # fmt: skip
        if one.gaps:
            told.append(f"{one.source}: {one.gaps:.1f} h in which nothing was logged are not counted")
    return told


def _plain(row: Judged) -> dict[str, Any]:
    found = row.change
    line = row.drift
    return {
        "channel": row.channel.name, "unit": row.channel.unit, "low": row.channel.low, "high": row.channel.high,
        "verdict": row.verdict, "words": row.words, "values": row.values, "stop_hours": row.stop,
        "change": None if found is None else {"alarm_hours": found.alarm, "began_hours": found.began,
                                              "before": found.before, "after": found.after},
        "drift": None if line is None else {"per_hour": line.slope, "low": line.low, "high": line.high,
                                            "hours_to_limit": line.until_limit},
        "block": None if row.blocks is None else row.blocks.size, "threshold": row.threshold,
        "false_alarm_hours": row.false_alarm,
    }  # fmt: skip
