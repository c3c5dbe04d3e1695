"""
Counts of right and wrong bits by block of addresses and data line, and the fault classes that counts alone can weigh.

Such a class says how often bits are wrong, not which: single cells, drift, noise, another image, and 'none of these'.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from kilter.signals.memory.changes import Region
from kilter.signals.memory.contents import Contents
from kilter.signals.memory.figures import log_beside, log_share, number

RESOLUTIONS = (1, 4, 16, 64)
"""Numbers of groups of blocks in which errors of an unknown fault may gather."""


@dataclass(frozen=True)
class Tallies:
    """
    Bits counted.

    Args:
        edges: First address of each block, and the number of words.
        counts: Bits by block, data line, image bit and dump bit, shape (blocks, width, 2, 2).
    """

    edges: tuple[int, ...]
    counts: NDArray[np.int64]

    @property
    def wrong(self) -> int:
        """Bits that differ."""
        return int(self.counts[..., 0, 1].sum() + self.counts[..., 1, 0].sum())

    @property
    def bits(self) -> int:
        """All bits."""
        return int(self.counts.sum())

    def within(self, region: Region) -> NDArray[np.int64]:
        """Counts of a region whose bounds are edges, shape (lines of the region, 2, 2)."""
        first, last = self.edges.index(region.first), self.edges.index(region.last + 1)
        lines = [line for line in range(self.counts.shape[1]) if region.bits >> line & 1]
        return np.asarray(self.counts[first:last, lines].sum(axis=0))


def tallies(image: Contents, dump: Contents, regions: Iterable[Region] = ()) -> Tallies:
    """Counts over blocks of equal size, divided further where a region begins or ends."""
    words = len(image.words)
    step = max((1 << image.lines) // int(number("blocks")), 1)
    bounds = {one.first for one in regions} | {one.last + 1 for one in regions}
    edges = tuple(sorted({*range(0, words, step), words, *(one for one in bounds if 0 <= one <= words)}))
    counts = np.zeros((len(edges) - 1, image.width, 2, 2), dtype=np.int64)
    for line in range(image.width):
        bit = image.words.dtype.type(1 << line)
        stored, read = (image.words & bit) != 0, (dump.words & bit) != 0
        for plane, where in (((1, 1), stored & read), ((0, 1), ~stored & read), ((1, 0), stored & ~read)):
            for at, (first, last) in enumerate(pairwise(edges)):
                counts[(at, line, *plane)] = np.count_nonzero(where[first:last])
    counts[..., 0, 0] = np.diff(edges)[:, None] - counts.sum(axis=(2, 3))
    return Tallies(edges, counts)


def log_cells(found: Tallies) -> float:
    """Single cells wrong, anywhere."""
    return log_share(found.wrong, found.bits, number("cell_errors"))


def log_fade(found: Tallies, *, erased: int = 1) -> float:
    """Programmed bits drifted towards the erased value; the others wrong only as single cells are."""
    programmed = 1 - erased
    drifted, rest = int(found.counts[..., programmed, erased].sum()), int(found.counts[..., erased, programmed].sum())
    return log_share(drifted, int(found.counts[..., programmed, :].sum()), number("fade")) + log_share(
        rest, int(found.counts[..., erased, :].sum()), number("cell_errors")
    )


def log_noise(found: Tallies, region: Region) -> float:
    """Bits of a region that tell nothing about the image, each line with its own share of ones; the rest as it is."""
    inside = found.within(region)
    wrong = found.wrong - int(inside[:, 0, 1].sum() + inside[:, 1, 0].sum())
    return _lines_of_any_share(inside) + log_beside(wrong, found.bits - int(inside.sum()))


def log_wrong_image(found: Tallies) -> float:
    """Nothing in common: all bits are noise of that kind."""
    return _lines_of_any_share(found.counts.sum(axis=0))


def log_anything(found: Tallies) -> float:
    """
    None of these: wrong bits gather in some places and lines, more or less finely, each place with its own share.

    It knows no fault, so a named one that fits is always likelier; but where none fits, it is what remains.
    """
    blocks = found.counts.shape[0]
    sizes = [size for size in RESOLUTIONS if size <= blocks] or [1]
    return log_sum([_gathered(found, size) for size in sizes]) - log(len(sizes))


def _gathered(found: Tallies, groups: int) -> float:
    starts = np.linspace(0, found.counts.shape[0], groups, endpoint=False).astype(int)
    counts = np.add.reduceat(found.counts, starts, axis=0)
    total = 0.0
    for bit in (0, 1):
        wrong, of = counts[..., bit, 1 - bit].ravel(), counts[..., bit, :].sum(axis=-1).ravel()
        total += sum(log_share(int(one), int(all_), 1.0) for one, all_ in zip(wrong, of, strict=True))
    return total


def _lines_of_any_share(counts: NDArray[np.int64]) -> float:
    """Log chance of the dump's bits of each line, whatever the image holds; counts of shape (lines, 2, 2)."""
    ones, every = counts[:, :, 1].sum(axis=1), counts.sum(axis=(1, 2))
    return sum(log_share(int(one), int(of), 1.0) for one, of in zip(ones, every, strict=True))


def log_sum(logs: Sequence[float]) -> float:
    """
    Log of the sum of what the logs stand for.

    >>> round(log_sum([0.0, 0.0]), 4)
    0.6931
    """
    top = max(logs, default=float("-inf"))
    return top if top == float("-inf") else top + log(sum(exp(one - top) for one in logs))
