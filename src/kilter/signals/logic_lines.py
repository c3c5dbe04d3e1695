"""Logic lines: what a digital capture holds, whatever file it came from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Ticks = NDArray[np.int64]
Levels = NDArray[np.uint8]
Words = NDArray[np.uint64]

LOW, HIGH, UNKNOWN, FLOATING = range(4)
"""Levels of a line; unknown is the 'x' of a capture, floating its 'z'. A capture by one threshold has neither."""


@dataclass(frozen=True)
class LogicLine:
    """
    One line over time.

    Args:
        name: As the capture has it, with its scopes: 'top.cpu.clk'.
        times: When it changed, ascending; the first entry is where it is first known. [ticks], shape (n,)
        levels: What it is from then on, shape (n,).
    """

    name: str
    times: Ticks
    levels: Levels


@dataclass(frozen=True)
class LogicBus:
    """
    Several lines that the capture holds as one word.

    Args:
        name: As the capture has it.
        width: Lines in it, at most 64; line 0 is the least significant.
        times: When the word changed, ascending. [ticks], shape (n,)
        values: Bits that are high, shape (n,).
        unknown: Bits that are 'x', shape (n,).
        floating: Bits that are 'z', shape (n,).
    """

    name: str
    width: int
    times: Ticks
    values: Words
    unknown: Words
    floating: Words

    def lines(self) -> tuple[LogicLine, ...]:
        """Its lines one by one, least significant first, named 'bus[0]' and so on."""
        return tuple(self.line(bit) for bit in range(self.width))

    def line(self, bit: int) -> LogicLine:
        """
        One of its lines.

        >>> word = np.array([0, 2, 3], np.uint64)
        >>> LogicBus("d", 2, np.array([0, 5, 9]), word, word * 0, word * 0).line(0).times
        array([0, 9])
        """
        one, at = np.uint64(1), np.uint64(bit)
        levels = ((self.values >> at) & one).astype(np.uint8)
        levels[((self.unknown >> at) & one).astype(np.bool_)] = UNKNOWN
        levels[((self.floating >> at) & one).astype(np.bool_)] = FLOATING
        kept = where_it_changes(levels)
        return LogicLine(f"{self.name}[{bit}]", self.times[kept], levels[kept])


@dataclass(frozen=True)
class NumberTrace:
    """A real number over time, as simulators write it: changes, not samples. Times in ticks, shape (n,)."""

    name: str
    times: Ticks
    values: NDArray[np.float64]


@dataclass(frozen=True)
class LogicCapture:
    """
    Everything one capture file holds.

    Args:
        source: Name of the file, for people.
        tick: Length of a tick. [s]
        start: First moment. [ticks]
        end: Moment at which the capture ended; what lines did afterwards is not known. [ticks]
        step: Shortest time between two looks at a line; changes in between are not seen. [ticks]
        lines: By name, single ones.
        buses: By name.
        numbers: By name.
        gaps: Stretches in which the capture was switched off. [ticks]
        warnings: One sentence for each thing left out or doubted.
        stepped: Whether 'step' was stated by the file; else it is the largest step that all changes share.
    """

    source: str
    tick: float
    start: int
    end: int
    step: int = 1
    lines: Mapping[str, LogicLine] = field(default_factory=dict)
    buses: Mapping[str, LogicBus] = field(default_factory=dict)
    numbers: Mapping[str, NumberTrace] = field(default_factory=dict)
    gaps: tuple[tuple[int, int], ...] = ()
    warnings: tuple[str, ...] = ()
    stepped: bool = False

    @property
    def length(self) -> float:
        """From first to last moment. [s]"""
        return (self.end - self.start) * self.tick

    @property
    def step_s(self) -> float:
        """Shortest time between two looks. [s]"""
        return self.step * self.tick

    def every_line(self) -> dict[str, LogicLine]:
        """Single lines and the lines of every bus, by name."""
        inside = [line for bus in self.buses.values() for line in bus.lines()]
        return {**self.lines, **{line.name: line for line in inside}}


def where_it_changes(values: NDArray[np.generic]) -> NDArray[np.intp]:
    """
    Places that differ from the one before; the first always counts.

    >>> where_it_changes(np.array([1, 1, 0, 0, 1]))
    array([0, 2, 4])
    """
    if not len(values):
        return np.zeros(0, np.intp)
    return np.concatenate([[0], np.flatnonzero(values[1:] != values[:-1]) + 1])


def shared_step(times: Ticks, most: int = 200_000) -> int:
    """
    The largest step of which all changes are multiples, judged by the first ones; 1 where there are too few.

    >>> shared_step(np.array([0, 20, 50, 90]))
    10
    """
    apart = np.diff(times[:most])
    return int(np.gcd.reduce(apart[apart > 0])) if (apart > 0).sum() > 1 else 1
