"""Contents of a memory: words of some bits, from the bytes of a dump; several reads of one chip agreed bit by bit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput, OutOfRange
from kilter.signals.memory.figures import number

Words = NDArray[np.unsignedinteger]
Addresses = NDArray[np.int64]

WIDTHS = {1: "u1", 4: "u1", 8: "u1", 16: "u2", 32: "u4"}
"""Data lines that a dump may have, and the type of its words; 1 and 4 are the low bits of a byte."""


@dataclass(frozen=True)
class Contents:
    """Words by address, of which the lowest `width` bits count; none above them is set."""

    words: Words
    width: int

    @property
    def mask(self) -> int:
        """All data bits set."""
        return (1 << self.width) - 1

    @property
    def lines(self) -> int:
        """Address lines that tell the words apart."""
        return max(int(len(self.words) - 1).bit_length(), 1)

    @property
    def bits(self) -> int:
        """Data bits in all."""
        return len(self.words) * self.width

    def at(self, addresses: Addresses) -> Words:
        """Words at these addresses. Where the lines can say more than there are words, those outside read all ones."""
        if len(self.words) == 1 << self.lines:
            return np.asarray(self.words[addresses & (len(self.words) - 1)])
        inside = (addresses >= 0) & (addresses < len(self.words))
        found = self.words[np.where(inside, addresses, 0)]
        return np.where(inside, found, found.dtype.type(self.mask))


def contents_of(raw: bytes, width: int = 8, *, big_endian: bool = False, what: str = "the dump") -> Contents:
    """
    The words of a dump.

    Args:
        raw: Bytes in address order.
        width: Data lines: 1, 4, 8, 16 or 32.
        big_endian: Whether the high byte of a word of 16 or 32 bits comes first.
        what: For messages.

    Raises:
        BadInput: No such width, too few or too many bytes, no whole number of words.

    >>> contents_of(bytes(range(8)), 16).words.tolist()
    [256, 770, 1284, 1798]
    """
    doing = f"Cannot compare {what}"
    if width not in WIDTHS:
        raise OutOfRange(doing, f"a width of {width} bits", ", ".join(map(str, WIDTHS)) + " bits", "Give one of these.")
    size, fewest, most = int(WIDTHS[width][1]), int(number("fewest_words")), int(number("largest_bytes"))
    if not fewest * size <= len(raw) <= most:
        raise OutOfRange(doing, f"{len(raw)} bytes", f"{fewest * size} to {most} bytes",
                         "Check that this is the file that was meant and that it was saved whole.")  # fmt: skip
    if len(raw) % size:
        raise BadInput(doing, f"{len(raw)} bytes, which are no whole words of {width} bits",
                       f"a multiple of {size} bytes", "Check the width; check that the file is whole.")  # fmt: skip
    words = np.frombuffer(raw, dtype=(">" if big_endian else "<") + WIDTHS[width])
    words = words.astype(WIDTHS[width])
    mask = (1 << width) - 1
    if width < 8:
        words = words & words.dtype.type(mask)
    return Contents(words, width)


@dataclass(frozen=True)
class Reads:
    """
    Several reads of one memory.

    Args:
        agreed: What most reads say, bit by bit; at a draw the first read.
        unstable: Bits that differed between reads, set in a word for each address.
        number: How many reads there were.
    """

    agreed: Contents
    unstable: Words
    number: int

    @property
    def unstable_bits(self) -> int:
        """How many bits differed between reads."""
        return int(np.bitwise_count(self.unstable).sum(dtype=np.int64))


def agree(reads: Sequence[Contents]) -> Reads:
    """
    What several reads of one memory agree on.

    Raises:
        BadInput: None, or reads of different length or width.
    """
    lengths = sorted({len(read.words) for read in reads})
    if len(lengths) != 1 or len({read.width for read in reads}) != 1:
        raise BadInput("Cannot compare several reads of one memory",
                       "no read" if not lengths else f"reads of {' and '.join(map(str, lengths))} words",
                       "reads of the same length and width", "Read again, with the same settings.")  # fmt: skip
    first = reads[0]
    unstable = np.zeros_like(first.words)
    for read in reads[1:]:
        unstable |= read.words ^ first.words
    at = np.flatnonzero(unstable)
    agreed = first.words.copy()
    if len(at) and len(reads) > 2:
        agreed[at] = _majority([read.words[at] for read in reads], first.width)
    return Reads(Contents(agreed, first.width), unstable, len(reads))


def _majority(reads: Sequence[Words], width: int) -> Words:
    agreed = np.zeros_like(reads[0])
    for line in range(width):
        ones = np.sum([(read >> read.dtype.type(line)) & read.dtype.type(1) for read in reads], axis=0)
        first = (reads[0] >> reads[0].dtype.type(line)) & reads[0].dtype.type(1)
        bit = np.where(2 * ones == len(reads), first, 2 * ones > len(reads)).astype(agreed.dtype)
        agreed |= bit << agreed.dtype.type(line)
    return agreed
