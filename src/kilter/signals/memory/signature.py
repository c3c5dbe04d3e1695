"""
Where a march test fails under a fault of a line or a chip, worked out on the few addresses that the fault mixes.

Two address lines divide the memory into groups of four addresses that differ in them alone. A fault of these lines
mixes addresses of a group only, and a march test visits the four in the same order in every group: four words tell all.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.signals.memory.changes import OF_ADDRESS, OF_DATA, Change
from kilter.signals.memory.contents import Addresses, Words
from kilter.signals.memory.march import MarchTest

Group = tuple[int, int]
"""Element (-1: any) and whether background (0) or complement (1) was expected."""


PASSES = 0
"""Mark of every change that the test does not show."""


@dataclass(frozen=True)
class Signature:
    """Wrong bits of each kind of read at each of the four addresses of a group; `slot` tells which."""

    change: Change
    wrong: Mapping[Group, NDArray[np.int64]]

    def mark(self) -> int:
        """A number that equals that of every change with the same fails."""
        table = tuple((group, tuple(wrong.tolist()[:4])) for group, wrong in sorted(self.wrong.items()))
        if not any(any(wrong) for _, wrong in table):
            return PASSES
        alike = all(len(set(wrong)) == 1 for _, wrong in table)
        return hash((None if alike else _lines(self.change), self.change.region, table))

    def slot(self, addresses: Addresses) -> NDArray[np.int64]:
        """0 to 3: the two lines' values, the higher line first; 4 outside the region of the fault."""
        low, high = _lines(self.change)
        slot = ((addresses >> low) & 1) | (((addresses >> high) & 1) << 1)
        region = self.change.region
        if region is None:
            return slot
        return np.where((addresses >= region.first) & (addresses <= region.last), slot, 4)


    def sizes(self, words: int) -> NDArray[np.int64]:
        """Addresses in each slot of a memory of that many words, a power of two; shape (5,)."""
        region = self.change.region
        if region is None:
            return np.array([words // 4] * 4 + [0], dtype=np.int64)
        inside = np.bincount(self.slot(np.arange(region.first, region.last + 1, dtype=np.int64)), minlength=5)
        inside[4] = words - inside.sum()
        return inside


def _lines(change: Change) -> tuple[int, int]:
    """The two address lines that matter; faults that mix no addresses take the lowest two."""
    lines = sorted(change.lines) if change.kind in OF_ADDRESS else []
    if len(lines) == 2:
        return lines[0], lines[1]
    if lines and lines[0] > 0:
        return 0, lines[0]
    return 0, 1


def signature(test: MarchTest, change: Change, width: int, background: int, *, by_element: bool) -> Signature:
    """
    The signature of one change.

    Args:
        test: Whose reads fail.
        change: One of the classes that a march test can show.
        width: Data lines.
        background: Word that stands for 0.
        by_element: Whether the fail list tells the elements apart.
    """
    mask = (1 << width) - 1
    shown = mask if change.region is None else change.region.bits
    reached = _reached(change)
    cells = np.full(4, background, dtype=np.uint32)
    wrong: dict[Group, NDArray[np.int64]] = {}
    for at, slot, operation in test.steps(4):
        word = np.array([background ^ (mask if operation.value else 0)], dtype=np.uint32)
        if operation.write:
            cells[reached[slot]] = _on_bus(word, change, mask)[0]
            continue
        read = _answered(_on_bus(cells[reached[slot] : reached[slot] + 1], change, mask), change, mask)
        group = (at if by_element else -1, operation.value)
        wrong.setdefault(group, np.zeros(5, dtype=np.int64))[slot] |= int(read[0] ^ word[0]) & shown
    return Signature(change, wrong)


def _reached(change: Change) -> list[int]:
    """The cell that each of the four addresses reaches."""
    if change.kind not in OF_ADDRESS:
        return [0, 1, 2, 3]
    low, high = _lines(change)
    lines = [0 if line == low else 1 for line in change.lines if line in (low, high)]
    return [int(one) for one in OF_ADDRESS[change.kind](np.arange(4, dtype=np.int64), lines)]


def _on_bus(words: Words, change: Change, mask: int) -> Words:
    """What a faulty data line makes of a word on its way in or out."""
    return OF_DATA[change.kind](words, change.lines, mask) if change.kind in OF_DATA else words


def _answered(words: Words, change: Change, mask: int) -> Words:
    """What is read where nothing answers."""
    fixed = {"dead_high": mask, "dead_low": 0}
    return np.full_like(words, fixed[change.kind]) if change.kind in fixed else words
