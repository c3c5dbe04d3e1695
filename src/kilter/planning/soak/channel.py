"""One channel of a soak judged: limits first, then change, then drift; what cannot be told stays open."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.planning.numbers import number
from kilter.planning.soak.blocks import Blocks, independent_blocks
from kilter.planning.soak.cusum import Sums, sums, threshold
from kilter.planning.soak.drift import Drift, drift
from kilter.planning.soak.self_starting import FIRST, standardised

Floats = NDArray[np.float64]

STOP, CHANGED, DRIFTS, STEADY, OPEN = "stop", "changed", "drifts", "steady", "cannot tell"
VERDICTS = (STOP, CHANGED, DRIFTS, OPEN, STEADY)
"""Worst first."""


@dataclass(frozen=True)
class Channel:
    """
    What is logged.

    Args:
        name: Of it, and of its column in a log.
        quantity: Key of it; '' where nobody said.
        unit: Of its values.
        low, high: Limits at which the soak stops; infinite for none. [unit]
        why: Where the limits come from.
    """

    name: str
    quantity: str = ""
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    why: str = ""


@dataclass(frozen=True)
class Change:
    """
    A lasting change that was found.

    Args:
        alarm: When it was found. [h from switching on]
        began: When it seems to have begun. [h]
        before, after: Means before and since then. [unit]
        run_length: Values on average between false alarms.
    """

    alarm: float
    began: float
    before: float
    after: float
    run_length: float


@dataclass(frozen=True)
class Judged:
    """
    What a log of one channel tells.

    Args:
        channel: Which.
        verdict: One of VERDICTS.
        words: One sentence that gives the reason.
        stop: When it was beyond a limit for the first time. [h]
        change: A lasting change; None for none, or where none can be looked for.
        drift: Straight line through the log after warming up.
        blocks: Means that count as independent; None where too few values are left.
        sums: Their cumulative sums; None with them.
        threshold: Of those sums. [standard deviations]
        false_alarm: Hours between false alarms of this channel, on average. [h]
        values: How many were read.
    """

    channel: Channel
    verdict: str
    words: str
    stop: float | None
    change: Change | None
    drift: Drift | None
    blocks: Blocks | None
    sums: Sums | None
    threshold: float
    false_alarm: float
    values: int


def judge(channel: Channel, hours: Floats, values: Floats) -> Judged:
    """
    Judges one channel.

    Args:
        channel: With its limits.
        hours: From switching on, ascending, shape (n,). [h]
        values: Infinite for 'over limit', shape (n,). [unit of the channel]
    """
    stop = _stop(channel, hours, values)
    warm = (hours >= number("soak", "warm_up")) & np.isfinite(values)
    late, told = hours[warm], values[warm]
    least = int(number("soak", "least_blocks"))
    few = len(told) * number("soak", "baseline_share") < least
    if few:
        line = drift(late, told, channel.low, channel.high)
        need = math.ceil(least / number("soak", "baseline_share"))
        return _judged(channel, stop, None, line, None, None, math.nan, math.nan, len(values),
                       f"{len(told)} values after warming up; {need} are needed to look for a change")  # fmt: skip
    blocks = independent_blocks(told, late, number("soak", "baseline_share"), least)
    line = drift(blocks.hours, blocks.means, channel.low, channel.high)
    if not blocks.apart:
        return _judged(channel, stop, None, line, blocks, None, math.nan, math.nan, len(values),
                       f"values hang together (correlation {blocks.correlation:.2f} even between means of "
                       f"{blocks.size}), so that no false-alarm rate can be given")  # fmt: skip
    each = float(blocks.hours[-1] - blocks.hours[0]) / (len(blocks.hours) - 1)
    wanted = max(number("soak", "false_alarm") / each, 2.0)
    h = threshold(number("soak", "allowance"), wanted)
    z = standardised(blocks.means, _last_digit(told) / math.sqrt(blocks.size))
    found = sums(z, number("soak", "allowance"), h)
    change = _change(blocks, found, wanted)
    return _judged(channel, stop, change, line, blocks, found, h, wanted * each, len(values), "")


def _judged(
    channel: Channel, stop: float | None, change: Change | None, line: Drift | None, blocks: Blocks | None,
    found: Sums | None, h: float, false_alarm: float, count: int, open_words: str,
) -> Judged:  # fmt: skip
    if stop is not None:
        verdict, words = STOP, f"beyond its limits from {stop:.2f} h on"
    elif change is not None and not _rather_a_line(blocks, change, line):
        verdict = CHANGED
        words = f"changed at about {change.began:.1f} h, from {change.before:.5g} to {change.after:.5g} {channel.unit}"
    elif open_words:
        verdict, words = OPEN, open_words
    elif line is not None and (line.seen or change is not None):
        verdict = DRIFTS
        words = f"drifts by {line.slope:.2g} {channel.unit} per hour ({line.low:.2g} to {line.high:.2g})"
        if line.until_limit is not None:
            words += f"; at that rate it meets a limit no sooner than {line.until_limit:.0f} h after the end"
    else:
        verdict, words = STEADY, "no change and no drift were seen"
    if verdict == STEADY and math.isinf(channel.low) and math.isinf(channel.high):
        words += "; no limits were given"
    return Judged(channel, verdict, words, stop, change, line, blocks, found, h, false_alarm, count)


def _rather_a_line(blocks: Blocks | None, change: Change, line: Drift | None) -> bool:
    """Whether a straight line leaves less of the log unexplained than a step where the change seems to have begun."""
    if blocks is None or line is None or not line.seen:
        return False
    at, values = blocks.hours, blocks.means
    step = np.where(at < change.began, change.before, change.after)
    straight = values.mean() + line.slope * (at - at.mean())
    return float(((values - straight) ** 2).sum()) < float(((values - step) ** 2).sum())


def _stop(channel: Channel, hours: Floats, values: Floats) -> float | None:
    """Time of the first of so many values in a row beyond a limit."""
    beyond = ~((values >= channel.low) & (values <= channel.high))
    row = int(number("soak", "in_a_row"))
    if len(values) < row or (math.isinf(channel.low) and math.isinf(channel.high)):
        return None
    runs = np.convolve(beyond, np.ones(row), "valid") == row
    return float(hours[int(np.argmax(runs))]) if runs.any() else None


def _change(blocks: Blocks, found: Sums, wanted: float) -> Change | None:
    if found.alarm is None or found.began is None:
        return None
    began = max(found.began, FIRST)
    before, after = blocks.means[:began], blocks.means[began:]
    return Change(float(blocks.hours[found.alarm]), float(blocks.hours[began]), float(before.mean()),
                  float(after.mean()), wanted)  # fmt: skip


def _last_digit(values: Floats) -> float:
    """Standard deviation that the last digit of the meter leaves open: the smallest step seen over the root of 12."""
    steps = np.diff(np.unique(values))
    steps = steps[steps > 1e-12 * max(1.0, float(np.abs(values).max()))]
    return float(steps.min()) / math.sqrt(12) if len(steps) else 0.0
