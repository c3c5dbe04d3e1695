"""
Vectors packed into lanes: bit b of word w holds vector 64 w + b.

Words come in blocks of WORDS, so that a compiled loop has a fixed length; `count` says how many vectors are real.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput

WORDS = 16
"""Words in a block: 1,024 vectors. A property of the layout, not of any circuit."""

Words = NDArray[np.uint64]


@dataclass(frozen=True)
class Vectors:
    """
    Input vectors of a netlist.

    Args:
        words: Shape (inputs, n_words), n_words a multiple of WORDS; unused bits are zero.
        count: Number of vectors.
    """

    words: Words
    count: int

    @property
    def mask(self) -> Words:
        """Ones where a vector is real, shape (n_words,)."""
        mask: Words = pack(np.ones((self.count, 1), bool)).words[0]
        return mask


def pack(bits: ArrayLike) -> Vectors:
    """
    Vectors from rows of 0 and 1, shape (n_vectors, n_inputs).

    Raises:
        BadInput: Not a table, or something else than 0 and 1 in it.

    >>> pack([[0, 1], [1, 1]]).words[:, 0].tolist()
    [2, 3]
    """
    table = np.asarray(bits)
    if table.ndim != 2 or not np.isin(table, (0, 1)).all():
        found = f"an array of shape {table.shape} with values {np.unique(table)[:4].tolist()}"
        allowed = "rows of 0 and 1, one row for each vector"
        raise BadInput("Cannot pack input vectors", found, allowed, "Give a table of bits.")
    count, n_inputs = table.shape
    n_words = _words_for(count)
    padded = np.zeros((n_inputs, n_words * 64), np.uint8)
    padded[:, :count] = table.T
    octets = np.packbits(padded, axis=1, bitorder="little")
    return Vectors(octets.view("<u8").astype(np.uint64), count)


def _words_for(count: int) -> int:
    """Words that hold so many vectors, in whole blocks."""
    return max(1, -(-count // (64 * WORDS))) * WORDS


def unpack(words: Words, count: int) -> NDArray[np.bool_]:
    """Rows of bits, shape (count, n_rows), from packed rows of shape (n_rows, n_words)."""
    octets = np.ascontiguousarray(words, "<u8").view(np.uint8)
    return np.unpackbits(octets, axis=1, bitorder="little", count=count).T.astype(bool)


def random_vectors(n_inputs: int, count: int, seed: int = 0) -> Vectors:
    """Vectors of fair coin tosses; the same seed gives the same vectors, also with another release of numpy."""
    n_words = _words_for(count)
    raw = np.random.PCG64(seed).random_raw(n_inputs * n_words).reshape(n_inputs, n_words)
    return Vectors(raw & pack(np.ones((count, 1), bool)).words, count)


def all_vectors(n_inputs: int) -> Vectors:
    """
    Every vector once; bit i of the vector's number is input i.

    Raises:
        BadInput: More than 20 inputs, a million vectors.
    """
    if n_inputs > 20:
        raise BadInput(
            "Cannot write out every input vector", f"{n_inputs} inputs", "up to 20", "Use random_vectors instead."
        )
    numbers = np.arange(1 << n_inputs)
    return pack((numbers[:, None] >> np.arange(n_inputs)) & 1)


def to_integers(words: Words) -> list[int]:
    """Each packed row as one Python integer."""
    return [int.from_bytes(row.tobytes(), "little") for row in np.ascontiguousarray(words, "<u8")]


def from_integers(rows: Sequence[int], n_words: int) -> Words:
    """Packed rows, shape (n_rows, n_words), from Python integers."""
    octets = b"".join(row.to_bytes(8 * n_words, "little") for row in rows)
    return np.frombuffer(octets, "<u8").astype(np.uint64).reshape(len(rows), n_words)
