"""What one line of a logic capture does: rests, pulses at a frequency, comes in bursts, has glitches."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from kilter.measure.measured import Measured, engineering
from kilter.signals.line_stretches import Stretches, stretches
from kilter.signals.logic_judgement import limit
from kilter.signals.logic_lines import FLOATING, HIGH, LOW, LogicCapture, LogicLine, Ticks


@dataclass(frozen=True)
class LineActivity:
    """
    What a line does during a capture.

    Args:
        name: Of the line.
        word: 'low', 'high' or 'pulsing'; 'floating' where the file says so; 'unknown' where nothing is told.
        activity: 'none', 'some' or 'busy'; '' where nothing is told.
        changes: Between low and high.
        known: Share of the capture in which the level is told.
        high: Share of that time spent high; NaN where nothing is told.
        frequency: None where there is none to give; 'why' then says why.
        duty: Share of the period spent high, over whole periods, or None.
        shortest_high: Of the pulses seen whole. [s], None without one
        shortest_low: The same for pauses. [s]
        bursts: Bursts with pauses between them; 0 for steady activity.
        glitches: Pulses far shorter than the others.
        first_glitch: When. [s from the start]
        remarks: Sentences about doubts.
        why: Why there is no frequency.
    """

    name: str
    word: str
    activity: str
    changes: int
    known: float
    high: float
    frequency: Measured | None = None
    duty: Measured | None = None
    shortest_high: float | None = None
    shortest_low: float | None = None
    bursts: int = 0
    glitches: int = 0
    first_glitch: float | None = None
    remarks: tuple[str, ...] = ()
    why: str = ""


def line_activity(line: LogicLine, capture: LogicCapture, *, time_base: float | None = None) -> LineActivity:
    """
    Looks at one line.

    Args:
        line: Of the capture.
        capture: For its span, its gaps and its step.
        time_base: Relative standard uncertainty of the analyser's clock; None takes the usual one.
    """
    pieces = stretches(line, capture)
    low, high = pieces.time_at(LOW), pieces.time_at(HIGH)
    told, span = low + high, max(capture.end - capture.start, 1)
    rising = pieces.edges(HIGH)
    changes = len(rising) + len(pieces.edges(LOW))
    frequency, why = _frequency(pieces, capture, limit("frequency", "time_base") if time_base is None else time_base)
    shortest_high, shortest_low = (_shortest(pieces.whole(level), capture.tick) for level in (HIGH, LOW))
    glitches = _glitches(pieces)
    return LineActivity(
        name=line.name,
        word=_word(pieces, changes),
        activity=_activity(changes, told * capture.tick),
        changes=changes,
        known=told / span,
        high=high / told if told else float("nan"),
        frequency=frequency,
        duty=_duty(pieces, capture) if frequency else None,
        shortest_high=shortest_high,
        shortest_low=shortest_low,
        bursts=_bursts(pieces),
        glitches=len(glitches),
        first_glitch=float(glitches[0] - capture.start) * capture.tick if len(glitches) else None,
        remarks=(*_remarks(pieces, capture, changes, told / span), *_alias_remark(capture, frequency)),
        why=why,
    )


def _word(pieces: Stretches, changes: int) -> str:
    if changes:
        return "pulsing"
    seen = set(pieces.levels.tolist())
    if {LOW, HIGH} <= seen:
        return "pulsing"  # the change itself fell into a stretch without a level
    for level, word in ((LOW, "low"), (HIGH, "high"), (FLOATING, "floating")):
        if level in seen:
            return word
    return "unknown"


def _activity(changes: int, seconds: float) -> str:
    if seconds <= 0:
        return ""
    if not changes:
        return "none"
    return "busy" if changes / seconds >= limit("busy", "changes_per_second") else "some"


def _periods(pieces: Stretches) -> tuple[Ticks, Ticks]:
    """Rising edges, and the periods between those with no untold level in between. [ticks]"""
    at = pieces.edges(HIGH)
    untold = np.cumsum(pieces.levels > HIGH)[at]
    edges = pieces.starts[at]
    return edges, np.diff(edges)[np.diff(untold) == 0]


def _frequency(pieces: Stretches, capture: LogicCapture, time_base: float) -> tuple[Measured | None, str]:
    """The frequency, or why there is none."""
    _, periods = _periods(pieces)
    count = len(periods)
    if count < limit("frequency", "fewest_periods"):
        return None, f"{count} whole period(s) were seen" if count or len(pieces.edges(HIGH)) else "it does not pulse"
    if _bursts(pieces):
        return None, "it comes in bursts"
    median, step = float(np.median(periods)), capture.step
    low, high = np.quantile(periods, [0.05, 0.95])
    if max(high - median, median - low) > max(limit("frequency", "regular_share") * median, 2 * step):
        return None, "its periods vary too much"
    shortest = min(float(pieces.whole(level).mean()) for level in (LOW, HIGH))
    sure = median >= limit("frequency", "sure_steps") * step and periods.max() - periods.min() <= 2 * step
    if capture.stepped and shortest < limit("frequency", "fewest_steps") * step and not sure:
        rate = engineering(1.0 / capture.step_s, "Hz")
        return None, f"it is too fast for {rate} sampling; what is seen may be an alias"
    span = float(periods.sum())
    value = count / (span * capture.tick)
    return Measured(value, "Hz", value * hypot(step / (sqrt(6.0) * span), time_base)), ""


def _duty(pieces: Stretches, capture: LogicCapture) -> Measured | None:
    """High time over whole periods; the edges may lie anywhere between two looks."""
    edges, periods = _periods(pieces)
    inside = (pieces.starts >= edges[0]) & (pieces.ends <= edges[-1])
    high, low = (float(pieces.widths[inside & (pieces.levels == level)].sum()) for level in (HIGH, LOW))
    if high + low <= 0:
        return None
    return Measured(high / (high + low), "", capture.step / (sqrt(6.0) * float(np.median(periods))))


def _bursts(pieces: Stretches) -> int:
    """How many bursts there are; 0 where the activity is steady or none."""
    _, periods = _periods(pieces)
    if len(periods) < limit("frequency", "fewest_periods"):
        return 0
    pauses = int((periods > limit("burst", "gap") * float(np.median(periods))).sum())
    return pauses + 1 if pauses else 0


def _glitches(pieces: Stretches) -> Ticks:
    """When pulses begin that are far shorter than the others of their level. [ticks]"""
    found = []
    for level in (LOW, HIGH):
        widths = pieces.whole(level)
        if len(widths) < limit("glitch", "fewest"):
            continue
        bound = limit("glitch", "share") * float(np.median(widths))
        if 0 < (widths < bound).sum() <= limit("glitch", "most") * len(widths):
            inside = np.zeros(len(pieces.levels), np.bool_)
            inside[1:-1] = (pieces.levels[:-2] <= HIGH) & (pieces.levels[2:] <= HIGH)
            found.append(pieces.starts[inside & (pieces.levels == level) & (pieces.widths < bound)])
    return np.sort(np.concatenate([np.zeros(0, np.int64), *found]))


def _shortest(widths: Ticks, tick: float) -> float | None:
    return float(widths.min()) * tick if len(widths) else None


def _alias_remark(capture: LogicCapture, frequency: Measured | None) -> tuple[str, ...]:
    """Sampling alone cannot tell a frequency from its aliases; a second sample rate can."""
    if frequency is None:
        return ()
    if not capture.stepped:
        return (
            "the file does not tell how often the lines were looked at; what is faster would look slower than it is",
        )
    half = engineering(0.5 / capture.step_s, "Hz")
    return (f"anything faster than {half} would look slower than it is; another sample rate would show it",)


def _remarks(pieces: Stretches, capture: LogicCapture, changes: int, known: float) -> tuple[str, ...]:
    """Doubts in words."""
    said = []
    if known < 1.0:
        said.append(f"its level is told during {known:.0%} of the capture only")
    if (
        capture.stepped
        and changes
        and min((float(w.min()) for level in (LOW, HIGH) if len(w := pieces.whole(level))), default=9e9)
        <= (capture.step)
    ):
        said.append("its shortest pulse is one step of the capture long; shorter ones would not be seen")
    if not changes and known:
        length = engineering(capture.length, "s")
        said.append(f"it did not change in {length}; what it does before or after is not known")
    return tuple(said)
