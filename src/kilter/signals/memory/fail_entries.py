"""The fail list of a march test: checked against the memory and the test, and joined by kind of read and address."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput, OutOfRange
from kilter.signals.memory.contents import WIDTHS, Addresses
from kilter.signals.memory.figures import number
from kilter.signals.memory.march import MarchTest
from kilter.signals.memory.signature import Group

DOING = "Cannot weigh the fail list"


@dataclass(frozen=True)
class Fails:
    """
    Reads that failed, in columns.

    Args:
        address: Of each, shape (fails,).
        expected: Word that a good memory gives.
        read: Word that came.
        element: Number of the march element, from 0; None where the list does not say.
    """

    address: Addresses
    expected: NDArray[np.int64]
    read: NDArray[np.int64]
    element: NDArray[np.int64] | None = None


@dataclass(frozen=True)
class Setting:
    """The memory tested: the test, number of words (a power of two), data lines, and the word that stands for 0."""

    test: MarchTest
    words: int
    width: int = 8
    background: int = 0

    def __post_init__(self) -> None:
        if self.width not in WIDTHS:
            raise OutOfRange(DOING, f"a width of {self.width} bits", ", ".join(map(str, WIDTHS)), "Give one of these.")
        most = int(number("largest_bytes"))
        if not number("fewest_words") <= self.words <= most or self.words & (self.words - 1):
            raise OutOfRange(DOING, f"{self.words} words", f"a power of two from {number('fewest_words'):g} to {most}",
                             "Give the number of words of the whole memory.")  # fmt: skip
        if not 0 <= self.background < 1 << self.width:
            raise OutOfRange(DOING, f"the background {self.background:#x}", f"0 to {(1 << self.width) - 1:#x}",
                             "Give the word that was written for 0.")  # fmt: skip

    @property
    def lines(self) -> int:
        """Address lines."""
        return self.words.bit_length() - 1

    def groups(self, *, by_element: bool) -> list[Group]:
        """Kinds of read that the list can tell apart."""
        found = {(at if by_element else -1, one.value) for at, el in enumerate(self.test.elements)
                 for one in el.operations if not one.write}  # fmt: skip
        return sorted(found)


@dataclass(frozen=True)
class Entries:
    """Fails joined: one entry for each kind of read and address, with its wrong bits."""

    group: NDArray[np.int64]
    address: Addresses
    wrong: NDArray[np.int64]
    groups: tuple[Group, ...]


def entries(fails: Fails, setting: Setting) -> Entries:
    """
    The fails, checked and joined.

    Raises:
        BadInput: An address outside the memory, a word that the test does not expect, an element that does not exist.
    """
    mask = (1 << setting.width) - 1
    _check(fails, setting, mask)
    groups = setting.groups(by_element=fails.element is not None)
    value = (fails.expected != setting.background).astype(np.int64)
    element = fails.element if fails.element is not None else np.full(len(value), -1)
    place = {group: at for at, group in enumerate(groups)}
    codes = np.array([place.get((int(e), int(v)), -1) for e, v in zip(element, value, strict=True)], dtype=np.int64)
    if (codes < 0).any():
        at = int(np.flatnonzero(codes < 0)[0])
        raise _bad(at, f"a read of {int(fails.expected[at]):#x} in element {int(element[at])}",
                   "reads that the test does", f"Check the test's name; this is {setting.test.name}.")  # fmt: skip
    key = codes * setting.words + fails.address
    unique, where = np.unique(key, return_inverse=True)
    wrong = np.zeros(len(unique), dtype=np.int64)
    np.bitwise_or.at(wrong, where, (fails.expected ^ fails.read) & mask)
    return Entries(unique // setting.words, unique % setting.words, wrong, tuple(groups))


def _check(fails: Fails, setting: Setting, mask: int) -> None:
    """Refuses the first fail that this memory and test cannot have."""
    if len(fails.address) > number("largest_fails"):
        raise OutOfRange(DOING, f"{len(fails.address)} fails", f"up to {number('largest_fails'):g}",
                         "Shorten the list.")  # fmt: skip
    outside = (fails.address < 0) | (fails.address >= setting.words)
    strange = (fails.expected != setting.background) & (fails.expected != setting.background ^ mask)
    equal = fails.expected == fails.read
    wide = (fails.read < 0) | (fails.read > mask)
    both = f"{setting.background:#x} or its complement {setting.background ^ mask:#x}"
    for where, column, allowed, advice in (
        (outside, fails.address, f"addresses from 0 to {setting.words - 1:#x}", "Check the number of words."),
        (strange, fails.expected, both, "Check the width, and the background that was used."),
        (wide, fails.read, f"words from 0 to {mask:#x}", "Check the width."),
        (equal, fails.read, "a word that differs from what was expected", "Remove reads that did not fail."),
    ):
        if where.any():
            row = int(np.flatnonzero(where)[0])
            raise _bad(row, f"{int(column[row]):#x}", allowed, advice)


def _bad(row: int, found: str, allowed: str, advice: str) -> BadInput:
    return BadInput(DOING, f"{found} in fail number {row + 1}", allowed, advice)
