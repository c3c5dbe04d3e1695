"""Which changes are tried on a memory, and how likely each is beforehand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import log

import numpy as np

from kilter.signals.memory.changes import Change, Region
from kilter.signals.memory.contents import Contents
from kilter.signals.memory.figures import fault_classes, number

ADDRESS_SINGLES = ("address_stuck_low", "address_stuck_high", "address_inverted")
ADDRESS_PAIRS = ("address_short_and", "address_short_or", "address_swap")
DATA_SINGLES = ("data_stuck_low", "data_stuck_high", "data_inverted")
DATA_PAIRS = ("data_short_and", "data_short_or", "data_swap")
PIECE = 1 << 14
"""Words looked at together."""

SNIPPET, SNIPPETS = 48, 8
"""Bytes of one piece of a dump that is looked for in the image, and how many pieces."""


@dataclass(frozen=True)
class Candidates:
    """Changes and their log prior chances; the classes that have no place on this memory give theirs to the others."""

    changes: tuple[Change, ...]
    log_prior: tuple[float, ...]


def candidates(image: Contents, dump: Contents, chips: Sequence[Region] = ()) -> Candidates:
    """Every single change that is tried; chips by their regions, or where none is known by parts of the addresses."""
    changes = tuple(_changes(image, dump, chips))
    members: dict[str, int] = {}
    for change in changes:
        members[change.kind] = members.get(change.kind, 0) + 1
    return Candidates(changes, tuple(log(fault_classes()[one.kind].share / members[one.kind]) for one in changes))


def _changes(image: Contents, dump: Contents, chips: Sequence[Region]) -> Iterator[Change]:
    for kinds, lines in ((ADDRESS_SINGLES, image.lines), (DATA_SINGLES, image.width)):
        yield from (Change(kind, (line,)) for kind in kinds for line in range(lines))
    for kinds, lines in ((ADDRESS_PAIRS, image.lines), (DATA_PAIRS, image.width)):
        yield from (Change(kind, pair) for kind in kinds for pair in combinations(range(lines), 2))
    yield Change("inverted")
    yield from (Change("shifted", (words,)) for words in shifts(image, dump))
    for region in regions_of(image, chips):
        yield from (Change(kind, region=region) for kind in ("dead_high", "dead_low"))
    if len(chips) > 1:
        for chip in chips:
            yield from _at_one_chip(chip, image.width)


def _at_one_chip(chip: Region, width: int) -> Iterator[Change]:
    """Faults at the pins of one chip among several: they change its share of the words alone."""
    yield Change("select_stuck", region=chip)
    lines = max((chip.last - chip.first).bit_length(), 1)
    yield from (Change(kind, (line,), chip) for kind in ADDRESS_SINGLES[:2] for line in range(lines))
    own = [line for line in range(width) if chip.bits >> line & 1]
    yield from (Change(kind, (line,), chip) for kind in DATA_SINGLES[:2] for line in own)


def regions_of(image: Contents, chips: Sequence[Region]) -> tuple[Region, ...]:
    """Where nothing may answer: at one of several chips; in one chip, or where none is known, in any part of it."""
    return tuple(chips) if len(chips) > 1 else parts_of(image)


def parts_of(image: Contents) -> tuple[Region, ...]:
    """Where a chip could sit in a bank that nobody described: parts of the addresses, with all or half of the lines."""
    found, most = [], 1 << image.lines
    half = image.width // 2
    slices = [image.mask] + ([image.mask >> half, image.mask & ~(image.mask >> half)] if image.width > 1 else [])
    share = 1
    while share <= int(number("smallest_block_share")) and most // share >= 1:
        size = most // share
        for at in range(share):
            if at * size < len(image.words):
                last = min((at + 1) * size, len(image.words)) - 1
                found += [Region(at * size, last, bits) for bits in slices]
        share *= 2
    return tuple(found)


def shifts(image: Contents, dump: Contents) -> tuple[int, ...]:
    """Shifts in words: small ones, powers of two, and those by which pieces of the dump stand elsewhere."""
    size = image.words.dtype.itemsize
    usual = {sign << power for power in range(image.lines) for sign in (1, -1)} | {3, -3}
    stored, read = image.words.tobytes(), dump.words.tobytes()
    for start in range(0, max(len(read) - SNIPPET, 0), max(len(read) // SNIPPETS, 1)):
        at = start - start % size
        piece = read[at : at + SNIPPET]
        found = stored.find(piece) if len(set(piece)) > SNIPPET // 4 else -1
        if found >= 0 and (found - at) % size == 0:
            usual.add((found - at) // size)
    return tuple(sorted(one for one in usual - {0} if abs(one) < len(image.words)))


def _alike(image: Contents, line: int) -> bool:
    """Whether the words are the same for both states of an address line; most images differ within the first piece."""
    for first in range(0, len(image.words), PIECE):
        addresses = np.arange(first, min(first + PIECE, len(image.words)), dtype=np.int64)
        if not np.array_equal(image.at(addresses ^ (1 << line)), image.words[addresses]):
            return False
    return True


def insensitive(image: Contents) -> tuple[list[int], list[int]]:
    """
    Lines whose faults this content cannot show.

    Returns:
        Address lines between whose two states the image does not differ, and data lines that are the same everywhere.
    """
    silent = [line for line in range(image.lines) if _alike(image, line)]
    all_ones, any_one = int(np.bitwise_and.reduce(image.words)), int(np.bitwise_or.reduce(image.words))
    constant = [line for line in range(image.width) if (all_ones >> line & 1) == (any_one >> line & 1)]
    return silent, constant
