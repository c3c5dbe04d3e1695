"""Gathers the value changes of a VCD file, piece by piece, and sorts them by line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kilter.importers.vcd_header import WIDEST, Header, Variable
from kilter.importers.vcd_scan import KIND, LEVEL, SCALAR, Bytes, Piece, Places, Unreadable
from kilter.signals.logic_lines import (
    FLOATING,
    HIGH,
    UNKNOWN,
    Levels,
    LogicBus,
    LogicLine,
    NumberTrace,
    Ticks,
    Words,
    where_it_changes,
)

Planes = tuple[Words, Words, Words]
"""Bits that are high, unknown, floating."""

MOST_CHANGES = 80_000_000
"""Changes of one capture that are kept; each takes nine bytes or more."""

OFFSET, FACTOR = np.uint64(14695981039346656037), np.uint64(1099511628211)
"""Of the hash (FNV-1a, 64 bits) of identifiers too long to be packed into a word."""


@dataclass
class Found:
    """What was found of one variable so far."""

    times: list[Ticks] = field(default_factory=list)
    levels: list[Levels] = field(default_factory=list)
    planes: list[Planes] = field(default_factory=list)
    numbers: list[NDArray[np.float64]] = field(default_factory=list)


class Changes:
    """
    All changes of a file.

    Args:
        header: What it declares.
    """

    def __init__(self, header: Header) -> None:
        self.variables = list(header.variables.items())
        self.found = [Found() for _ in self.variables]
        known = [identifier for identifier, _ in self.variables] + sorted(header.left_out)
        self.long = max(map(len, known)) > 8
        keys = np.array([self._key(identifier) for identifier in known], np.uint64)
        self.order = np.argsort(keys)
        self.keys = keys[self.order]
        self.count = 0
        self.widths = np.array([min(v.width, WIDEST) for _, v in self.variables] + [WIDEST] * len(header.left_out))
        self.reals = np.array([v.real for _, v in self.variables] + [False] * len(header.left_out))

    def add(self, piece: Piece) -> None:
        """
        Takes one piece in.

        Raises:
            Unreadable: An identifier that is not declared, or a value that is none.
        """
        times, starts, ends = piece.scalars
        index = self._index(piece.text, starts + 1, ends)
        for number, at in _grouped(index, len(self.found)):
            self._add_levels(number, times[at], LEVEL[piece.text[starts[at]]])
        times, starts, ends, name_starts, name_ends = piece.vectors
        index = self._index(piece.text, name_starts, name_ends)
        for number, at in _grouped(index, len(self.found)):
            planes = _planes(piece.text, starts[at] + 1, ends[at], int(self.widths[number]))
            self._add_planes(number, times[at], planes)
        self._add_reals(piece)
        self.count += len(piece.scalars[0]) + len(piece.vectors[0])

    def lines(self, start: int) -> tuple[dict[str, LogicLine], dict[str, LogicBus], dict[str, NumberTrace]]:
        """
        Everything found, by name.

        Args:
            start: First moment; what was said before any time stamp counts from there. [ticks]
        """
        lines: dict[str, LogicLine] = {}
        buses: dict[str, LogicBus] = {}
        numbers: dict[str, NumberTrace] = {}
        for (_, variable), found in zip(self.variables, self.found, strict=True):
            times = np.concatenate([*found.times, np.zeros(0, np.int64)])
            times[times < 0] = start
            found.times.clear()
            if variable.real:
                values = np.concatenate([*found.numbers, np.zeros(0)])
                numbers |= {name: NumberTrace(name, times, values) for name in variable.names}
            elif variable.width == 1:
                lines |= _lines(variable, times, found.levels)
            else:
                buses |= _buses(variable, times, found.planes)
        return lines, buses, numbers

    def _add_levels(self, number: int, times: Ticks, levels: Levels) -> None:
        variable = self.variables[number][1]
        if variable.real:
            raise Unreadable(0, f"a logic level for the number {variable.names[0]}")
        found = self.found[number]
        found.times.append(times)
        if variable.width == 1:
            found.levels.append(levels)
            return
        ones, none = np.uint64(2**variable.width - 1), np.uint64(0)
        high = np.where(levels == HIGH, np.uint64(1), none)
        found.planes.append((high, np.where(levels == UNKNOWN, ones, none), np.where(levels == FLOATING, ones, none)))

    def _add_planes(self, number: int, times: Ticks, planes: Planes) -> None:
        variable = self.variables[number][1]
        found = self.found[number]
        found.times.append(times)
        if variable.width > 1:
            found.planes.append(planes)
            return
        high, unknown, floating = planes
        levels = high.astype(np.uint8)
        levels[unknown.astype(np.bool_)] = UNKNOWN
        levels[floating.astype(np.bool_)] = FLOATING
        found.levels.append(levels)

    def _add_reals(self, piece: Piece) -> None:
        times, starts, ends, name_starts, name_ends = piece.reals
        if not len(times):
            return
        index = self._index(piece.text, name_starts, name_ends)
        for when, start, end, number in zip(times, starts, ends, index, strict=True):
            if number >= len(self.found) or not self.reals[number]:
                continue
            word = bytes(piece.text[start + 1 : end]).decode("latin-1")
            try:
                value = float(word)
            except ValueError:
                raise Unreadable(int(start), f"the number '{word[:40]}'") from None
            self.found[number].times.append(np.array([when]))
            self.found[number].numbers.append(np.array([value]))

    def _key(self, identifier: bytes) -> np.uint64:
        text = np.frombuffer(identifier, np.uint8)
        return np.uint64(self._pack(text, np.array([0]), np.array([len(text)]))[0])

    def _pack(self, text: Bytes, starts: Places, ends: Places) -> Words:
        """Identifiers as 64-bit keys."""
        keys = np.full(len(starts), OFFSET if self.long else 0, np.uint64)
        longest = int((ends - starts).max(initial=0))
        for place in range(longest):
            at = starts + place
            inside = at < ends
            letter = text[at if place == 0 else np.where(inside, at, starts)].astype(np.uint64)
            grown = (keys ^ letter) * FACTOR if self.long else (keys << np.uint64(8)) | letter
            keys = np.where(inside, grown, keys) if place else grown
        return keys

    def _index(self, text: Bytes, starts: Places, ends: Places) -> NDArray[np.intp]:
        """Which variable each identifier is."""
        if not len(starts):
            return np.zeros(0, np.intp)
        keys = self._pack(text, starts, ends)
        if not self.long and int(self.keys[-1]) < 1 << 16 and int(keys.max()) < 1 << 16:
            table = np.zeros(1 << 16, np.int32)
            table[self.keys] = np.arange(len(self.keys))
            place = table[keys]
        else:
            place = np.minimum(np.searchsorted(self.keys, keys), len(self.keys) - 1)
        strange = np.flatnonzero(self.keys[place] != keys)
        if len(strange):
            first = int(strange[0])
            word = bytes(text[starts[first] : ends[first]][:40]).decode("latin-1")
            raise Unreadable(int(starts[first]), f"the identifier '{word}', which is not declared")
        return np.asarray(self.order[place])


def _grouped(index: NDArray[np.intp], count: int) -> Iterator[tuple[int, Places]]:
    """Each variable with the places at which it is meant; those left out, from `count` on, are not given."""
    small = index.astype(np.uint16) if count < 1 << 16 else index
    order = np.argsort(small, kind="stable")
    here = np.bincount(index, minlength=1)
    after = np.cumsum(here)
    for number in np.flatnonzero(here):
        if number < count:
            yield int(number), order[after[number] - here[number] : after[number]]


def _planes(text: Bytes, starts: Places, ends: Places, width: int) -> Planes:
    """
    Words of bits; a missing left part repeats an x or z and is else zero (IEEE 1364-2005, 18.2.1).

    Raises:
        Unreadable: A letter that is no bit, or more bits than the variable has.
    """
    length = ends - starts
    bad = np.flatnonzero((length < 1) | (length > width))
    if len(bad):
        raise Unreadable(int(starts[bad[0]]), f"{int(length[bad[0]])} bits where the variable has {width}")
    high, unknown, floating = (np.zeros(len(starts), np.uint64) for _ in range(3))
    for place in range(width):
        at = np.maximum(ends - 1 - place, starts)
        letter = text[at]
        level, inside = LEVEL[letter], place < length
        strange = np.flatnonzero(KIND[letter] != SCALAR)
        if len(strange):
            first = int(strange[0])
            raise Unreadable(int(starts[first]), f"the bit '{chr(letter[first])}' in a word of bits")
        bit = np.uint64(1 << place)
        high |= np.where(inside & (level == HIGH), bit, np.uint64(0))
        unknown |= np.where(level == UNKNOWN, bit, np.uint64(0))
        floating |= np.where(level == FLOATING, bit, np.uint64(0))
    return high, unknown, floating


def _last_of_each_moment(times: Ticks) -> NDArray[np.intp]:
    return np.flatnonzero(np.concatenate([times[1:] != times[:-1], [True]])) if len(times) else np.zeros(0, np.intp)


def _lines(variable: Variable, times: Ticks, chunks: list[Levels]) -> dict[str, LogicLine]:
    levels = np.concatenate([*chunks, np.zeros(0, np.uint8)])
    chunks.clear()
    kept = _last_of_each_moment(times)
    kept = kept[where_it_changes(levels[kept])]
    return {name: LogicLine(name, times[kept], levels[kept]) for name in variable.names}


def _buses(variable: Variable, times: Ticks, chunks: list[Planes]) -> dict[str, LogicBus]:
    empty = np.zeros(0, np.uint64)
    high, unknown, floating = (np.concatenate([*(chunk[i] for chunk in chunks), empty]) for i in range(3))
    if (np.diff(times) < 0).any():  # a piece may hold the same bus both as words of bits and as single levels
        order = np.argsort(times, kind="stable")
        times, high, unknown, floating = (one[order] for one in (times, high, unknown, floating))
    kept = _last_of_each_moment(times)
    merged = np.stack([high[kept], unknown[kept], floating[kept]])
    changed = np.flatnonzero(np.concatenate([[True], (np.diff(merged, axis=1) != 0).any(0)])[: len(kept)])
    kept = kept[changed]
    made = (times[kept], high[kept], unknown[kept], floating[kept])
    return {name: LogicBus(name, variable.width, *made) for name in variable.names}
