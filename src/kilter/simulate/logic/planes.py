"""
Four values in two bit planes, and what gates make of them.

A value is a pair of words (high, low): 'may be driven high', 'may be driven low'. So 1 is (1, 0), 0 is (0, 1), nobody
drives (Z) is (0, 0) and unknown (X) is (1, 1). Joining drivers on a bus is OR of both planes: 0 against 1 gives X.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Planes = NDArray[np.uint64]
"""Shape (2, ...): high plane, low plane."""

CODES = "01ZX"
"""Value of a code 0 to 3."""

HIGH, LOW = 0, 1
ONES = ~np.uint64(0)
PLANES = {"0": (np.uint64(0), ONES), "1": (ONES, np.uint64(0)), "Z": (np.uint64(0), np.uint64(0)), "X": (ONES, ONES)}
"""Value to its (high, low) words in all lanes."""


def filled(value: str, shape: tuple[int, ...]) -> Planes:
    """The same value in every lane."""
    high, low = PLANES[value]
    return np.stack([np.full(shape, high), np.full(shape, low)])


def encode(codes: ArrayLike) -> Planes:
    """
    Planes of shape (2, ..., n_words) from codes 0, 1, 2 (Z), 3 (X), lanes along the last axis; spare lanes are Z.

    >>> encode([0, 1, 2, 3])[:, 0].tolist()
    [10, 9]
    """
    table = np.asarray(codes, np.uint8)
    spare = -table.shape[-1] % 64
    padded = np.concatenate([table, np.full((*table.shape[:-1], spare), 2, np.uint8)], axis=-1)
    bits = np.stack([(padded == 1) | (padded == 3), (padded == 0) | (padded == 3)])
    octets = np.ascontiguousarray(np.packbits(bits, axis=-1, bitorder="little"))
    planes: Planes = octets.view("<u8").astype(np.uint64)
    return planes


def decode(planes: Planes, count: int) -> NDArray[np.uint8]:
    """Codes of the first `count` lanes along the last axis."""
    octets = np.ascontiguousarray(planes, "<u8").view(np.uint8)
    high, low = np.unpackbits(octets, axis=-1, bitorder="little", count=count)
    return np.where(high & low, 3, np.where(high, 1, np.where(low, 0, 2))).astype(np.uint8)


def read_floating(planes: Planes, as_value: str) -> Planes:
    """What an input sees: a net that nobody drives reads as '0', '1' or 'X'."""
    nobody = ~(planes[HIGH] | planes[LOW])
    high, low = PLANES[as_value]
    return np.stack([planes[HIGH] | (nobody & high), planes[LOW] | (nobody & low)])


def invert(planes: Planes) -> Planes:
    """The other way round; Z stays Z."""
    return planes[::-1]


def gate_planes(kind: str, seen: Sequence[Planes], shape: tuple[int, ...]) -> Planes:
    """What a gate drives, from what its inputs see (never Z); shape is that of one plane."""
    if kind in ("zero", "one"):
        return filled("1" if kind == "one" else "0", shape)
    if kind in ("buf", "not"):
        found = seen[0]
    elif kind in ("and", "nand"):
        found = _and(seen)
    elif kind in ("or", "nor"):
        found = invert(_and([invert(planes) for planes in seen]))
    elif kind in ("xor", "xnor"):
        found = _xor(seen)
    else:
        return _bus_driver(kind, seen)
    return invert(found) if kind in ("nand", "nor", "xnor", "not") else found


def _and(seen: Sequence[Planes]) -> Planes:
    high, low = seen[0]
    for other in seen[1:]:
        high, low = high & other[HIGH], low | other[LOW]
    return np.stack([high, low])


def _xor(seen: Sequence[Planes]) -> Planes:
    high, low = seen[0]
    for other in seen[1:]:
        high, low = (high & other[LOW]) | (low & other[HIGH]), (high & other[HIGH]) | (low & other[LOW])
    return np.stack([high, low])


def _bus_driver(kind: str, seen: Sequence[Planes]) -> Planes:
    """Enabled: the data; let go: Z; enable unknown: X, because Z or the data cannot be told apart here."""
    data = seen[0]
    enable = invert(data) if kind == "open_collector" else seen[1]
    if kind == "tri_low":
        enable = invert(enable)
    return np.stack([enable[HIGH] & (data[HIGH] | enable[LOW]), enable[HIGH] & (data[LOW] | enable[LOW])])


def join(drivers: Sequence[Planes]) -> Planes:
    """What several drivers make of one net."""
    found = drivers[0].copy()
    for planes in drivers[1:]:
        found |= planes
    return found


def contention(drivers: Sequence[Planes]) -> NDArray[np.uint64]:
    """Lanes in which one driver is surely high and another surely low."""
    surely_high, surely_low = np.zeros_like(drivers[0])
    for high, low in drivers:
        surely_high |= high & ~low
        surely_low |= low & ~high
    fighting: NDArray[np.uint64] = surely_high & surely_low
    return fighting


def bridged(own: Planes, other: Planes, winner: str) -> Planes:
    """
    What a net that is joined to another one carries; winner 'and', 'or', 'own' or 'other'.

    Where one of the two is not driven, the other one has its way.
    """
    if winner in ("own", "other"):
        strong, weak = (own, other) if winner == "own" else (other, own)
        return np.asarray(strong | (weak & ~(strong[HIGH] | strong[LOW])))
    neutral = "1" if winner == "and" else "0"
    seen = [read_floating(own, neutral), read_floating(other, neutral)]
    somebody = own[HIGH] | own[LOW] | other[HIGH] | other[LOW]
    return np.asarray(gate_planes(winner, seen, somebody.shape) & somebody)
