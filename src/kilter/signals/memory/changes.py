"""What a fault makes of a known image: which address is really read, and what then becomes of the word."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.signals.memory.contents import Addresses, Contents, Words


@dataclass(frozen=True, slots=True)
class Region:
    """Addresses from first to last and the data lines there; `name` is the chip's, where one is known."""

    first: int
    last: int
    bits: int
    name: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """
    One fault that turns the image into what is read.

    Args:
        kind: Key of its fault class.
        lines: Address or data lines by number, or the number of words of a shift.
        region: Where it acts, for faults of a chip.
    """

    kind: str
    lines: tuple[int, ...] = ()
    region: Region | None = None


Hypothesis = tuple[Change, ...]


def read_through(image: Contents, addresses: Addresses, hypothesis: Hypothesis) -> Words:
    """The words that a reader gets at these addresses where all changes of the hypothesis are present."""
    everywhere = [change for change in hypothesis if change.region is None]
    source = addresses
    for change in everywhere:
        if change.kind in OF_ADDRESS:
            source = OF_ADDRESS[change.kind](source, change.lines)
    words = image.at(source)
    for change in everywhere:
        if change.kind in OF_DATA:
            words = OF_DATA[change.kind](words, change.lines, image.mask)
    for change in hypothesis:
        if change.region is not None:
            words = _in_region(words, addresses, change, change.region, image)
    return words


def _in_region(words: Words, addresses: Addresses, change: Change, region: Region, image: Contents) -> Words:
    """The words with one chip's share of them changed; a chip that is always selected changes those of the others."""
    kind = words.dtype.type
    inside = (addresses >= region.first) & (addresses <= region.last)
    own, others = kind(region.bits), kind(image.mask & ~region.bits)
    if change.kind == "select_stuck":
        size = region.last - region.first + 1
        return np.where(inside, words, words & (image.at(region.first + addresses % size) | others))
    if change.kind in OF_ADDRESS:
        local = (addresses - region.first) & ((1 << (region.last - region.first).bit_length()) - 1)
        changed = image.at(region.first + OF_ADDRESS[change.kind](local, change.lines))
    elif change.kind in OF_DATA:
        changed = OF_DATA[change.kind](words, change.lines, image.mask)
    else:
        changed = words | own if change.kind == "dead_high" else words & others
    return np.where(inside, (changed & own) | (words & others), words)


# ---- address lines: which address is really read ---------------------------------------------------------------------


def _stuck_low(at: Addresses, lines: Sequence[int]) -> Addresses:
    return at & ~(1 << lines[0])


def _stuck_high(at: Addresses, lines: Sequence[int]) -> Addresses:
    return at | (1 << lines[0])


def _inverted(at: Addresses, lines: Sequence[int]) -> Addresses:
    return at ^ (1 << lines[0])


def _differ(at: Addresses, lines: Sequence[int]) -> tuple[Addresses, int]:
    """1 where the two lines differ, and both lines as a mask."""
    return ((at >> lines[0]) ^ (at >> lines[1])) & 1, (1 << lines[0]) | (1 << lines[1])


def _swapped(at: Addresses, lines: Sequence[int]) -> Addresses:
    differ, both = _differ(at, lines)
    return at ^ (differ * both)


def _low_wins(at: Addresses, lines: Sequence[int]) -> Addresses:
    differ, both = _differ(at, lines)
    return at & ~(differ * both)


def _high_wins(at: Addresses, lines: Sequence[int]) -> Addresses:
    differ, both = _differ(at, lines)
    return at | (differ * both)


def _moved(at: Addresses, lines: Sequence[int]) -> Addresses:
    return at + lines[0]


OF_ADDRESS: dict[str, Callable[[Addresses, Sequence[int]], Addresses]] = {
    "address_stuck_low": _stuck_low,
    "address_stuck_high": _stuck_high,
    "address_inverted": _inverted,
    "address_swap": _swapped,
    "address_short_and": _low_wins,
    "address_short_or": _high_wins,
    "shifted": _moved,
}

# ---- data lines: what becomes of the word ----------------------------------------------------------------------------


def _data(words: Words, lines: Sequence[int], change: Callable[[Words, Words], tuple[Words, Words]]) -> Words:
    """Replaces two lines of each word by a function of both."""
    kind = words.dtype.type
    one, two = kind(lines[0]), kind(lines[1])
    new = change((words >> one) & kind(1), (words >> two) & kind(1))
    rest = words & kind(~((1 << lines[0]) | (1 << lines[1])) & ((1 << 8 * words.dtype.itemsize) - 1))
    return np.asarray(rest | (new[0] << one) | (new[1] << two))


def _both(one: Words) -> tuple[Words, Words]:
    return one, one


OF_DATA: dict[str, Callable[[Words, Sequence[int], int], Words]] = {
    "data_stuck_low": lambda words, lines, mask: words & words.dtype.type(mask & ~(1 << lines[0])),
    "data_stuck_high": lambda words, lines, _: words | words.dtype.type(1 << lines[0]),
    "data_inverted": lambda words, lines, _: words ^ words.dtype.type(1 << lines[0]),
    "data_swap": lambda words, lines, _: _data(words, lines, lambda one, two: (two, one)),
    "data_short_and": lambda words, lines, _: _data(words, lines, lambda one, two: _both(one & two)),
    "data_short_or": lambda words, lines, _: _data(words, lines, lambda one, two: _both(one | two)),
    "inverted": lambda words, _, mask: words ^ words.dtype.type(mask),
}
