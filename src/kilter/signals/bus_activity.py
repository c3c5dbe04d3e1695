"""What several lines do together: words of a bus, selects that overlap, still or joined lines, an address walk."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import isclose

import numpy as np
from numpy.typing import NDArray

from kilter.signals.line_stretches import Stretches, stretches
from kilter.signals.logic_judgement import limit
from kilter.signals.logic_lines import FLOATING, HIGH, LOW, UNKNOWN, Levels, LogicCapture, LogicLine, Ticks


@dataclass(frozen=True)
class Overlap:
    """
    Two select lines that were asserted together, so that two chips may have driven the bus at once.

    Args:
        first, second: The lines.
        times: How often.
        longest: [s]
        total: [s]
        skew: Whether every overlap is short enough to come from switching at different speed.
    """

    first: str
    second: str
    times: int
    longest: float
    total: float
    skew: bool


@dataclass(frozen=True)
class WalkStep:
    """
    One line of an address walk.

    Args:
        line: Its name.
        rate: Changes per second.
        ratio: Of the rate of the line before to its own; NaN where either does not change.
        verdict: 'first', 'halves', 'still', 'too slow to tell' or 'does not halve'.
    """

    line: str
    rate: float
    ratio: float
    verdict: str


@dataclass(frozen=True)
class BusStates:
    """
    Words that a bus held.

    Args:
        distinct: Different words seen while every line was told.
        held: The words that were held longest, with their share of the told time.
        floating: Share of the capture with at least one line floating.
        unknown: Share with at least one line unknown, none floating.
        still: Lines that never changed while the others showed enough words; each with its level.
        joined: Pairs of lines that changed, and were alike all the time.
    """

    distinct: int
    held: tuple[tuple[int, float], ...]
    floating: float
    unknown: float
    still: tuple[tuple[str, str], ...]
    joined: tuple[tuple[str, str], ...]


def overlaps(
    lines: Sequence[LogicLine], capture: LogicCapture, *, asserted: Mapping[str, int] | None = None
) -> tuple[Overlap, ...]:
    """
    Select lines that were asserted together.

    Args:
        lines: Selects of chips on one bus.
        capture: That they belong to.
        asserted: By name, the level that selects; low where none is given.
    """
    found = []
    for one, other in combinations(lines, 2):
        times, levels = together([one, other], capture)
        wanted = [(asserted or {}).get(line.name, LOW) for line in (one, other)]
        both = (levels[0] == wanted[0]) & (levels[1] == wanted[1])
        spans = _runs(both, times)
        if len(spans):
            longest, total = float(spans.max()) * capture.tick, float(spans.sum()) * capture.tick
            found.append(Overlap(one.name, other.name, len(spans), longest, total, _is_skew(longest)))
    return tuple(found)


def address_walk(lines: Sequence[LogicLine], capture: LogicCapture) -> tuple[WalkStep, ...]:
    """
    Whether each line changes half as often as the one before, as with a processor that runs through all addresses.

    Args:
        lines: Least significant first.
        capture: That they belong to.
    """
    seconds = max(capture.length, capture.tick)
    counts = [_changes(stretches(line, capture)) for line in lines]
    steps: list[WalkStep] = []
    for number, (line, count) in enumerate(zip(lines, counts, strict=True)):
        before = counts[number - 1] if number else 0
        ratio = before / count if before and count else float("nan")
        steps.append(WalkStep(line.name, count / seconds, ratio, _walk_verdict(number, counts)))
    return tuple(steps)


def bus_states(lines: Sequence[LogicLine], capture: LogicCapture, *, most: int = 8) -> BusStates:
    """
    The words of a bus.

    Args:
        lines: Least significant first, at most 62.
        capture: That they belong to.
        most: Words listed.
    """
    times, levels = together(lines, capture)
    widths = np.diff(times).astype(np.float64)
    span = max(float(widths.sum()), 1.0)
    floating, untold = (levels == FLOATING).any(0), (levels == UNKNOWN).any(0)
    told = ~(floating | untold)
    words = (levels.astype(np.int64) << np.arange(len(lines), dtype=np.int64)[:, None]).sum(0)[told]
    distinct, place = np.unique(words, return_inverse=True)
    shares = np.bincount(place, widths[told], len(distinct)) / max(float(widths[told].sum()), 1.0)
    order = np.argsort(-shares, kind="stable")[:most]
    enough = len(distinct) >= limit("bus", "fewest_words")
    return BusStates(
        distinct=len(distinct),
        held=tuple((int(distinct[i]), float(shares[i])) for i in order),
        floating=float(widths[floating].sum()) / span,
        unknown=float(widths[untold & ~floating].sum()) / span,
        still=_still(lines, levels[:, told]) if enough else (),
        joined=_joined(lines, levels[:, told]) if enough else (),
    )


def together(lines: Sequence[LogicLine], capture: LogicCapture) -> tuple[Ticks, Levels]:
    """
    The levels of several lines between all their changes.

    Returns:
        Moments, shape (n + 1,) [ticks], and levels from each to the next, shape (lines, n).
    """
    each = [stretches(line, capture) for line in lines]
    end = np.array([max(capture.end, capture.start + 1)])
    times = np.unique(np.concatenate([*(one.starts for one in each), end]))
    levels = np.stack([_at(one, times[:-1]) for one in each])
    return times, levels


def _is_skew(seconds: float) -> bool:
    bound = limit("bus", "skew")
    return seconds <= bound or isclose(seconds, bound)


def _at(pieces: Stretches, times: Ticks) -> Levels:
    if not len(pieces.starts):
        return np.full(len(times), UNKNOWN, np.uint8)
    place = np.searchsorted(pieces.starts, times, "right") - 1
    return np.where(place >= 0, pieces.levels[np.maximum(place, 0)], UNKNOWN).astype(np.uint8)


def _runs(mask: NDArray[np.bool_], times: Ticks) -> Ticks:
    """Lengths of the stretches in which the mask holds. [ticks]"""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]])))
    return times[edges[1::2]] - times[edges[::2]]


def _changes(pieces: Stretches) -> int:
    return len(pieces.edges(HIGH)) + len(pieces.edges(LOW))


def _walk_verdict(number: int, counts: Sequence[int]) -> str:
    """A line that should have changed less than twice is too slow to tell anything by its rest."""
    if number == 0:
        return "first" if counts[0] else "still"
    before, count = counts[number - 1], counts[number]
    moving = next((earlier for earlier in range(number - 1, -1, -1) if counts[earlier]), None)
    if moving is None:
        return "does not halve" if count else "still"
    expected = counts[moving] / 2.0 ** (number - moving)
    if count == 0:
        return "still" if expected >= 2.0 else "too slow to tell"
    if before and abs(before - 2.0 * count) <= max(limit("bus", "walk_ratio") * before, 2.0):
        return "halves"
    return "does not halve"


def _still(lines: Sequence[LogicLine], levels: Levels) -> tuple[tuple[str, str], ...]:
    rests = (levels == levels[:, :1]).all(1)
    names = {LOW: "low", HIGH: "high"}
    return tuple((line.name, names[int(levels[i, 0])]) for i, line in enumerate(lines) if rests[i])


def _joined(lines: Sequence[LogicLine], levels: Levels) -> tuple[tuple[str, str], ...]:
    moves = [i for i in range(len(lines)) if (levels[i] != levels[i, 0]).any()]
    alike = [(i, j) for i, j in combinations(moves, 2) if (levels[i] == levels[j]).all()]
    return tuple((lines[i].name, lines[j].name) for i, j in alike)
