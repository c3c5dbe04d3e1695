"""
The one kind of TIFF that holds temperatures: one number a pixel, 16 bits or more, in plain or deflated strips.

Source: TIFF revision 6.0 (1992), tags by number; deflate as Adobe's supplement has it. From memory, checked in the
tests against files written by two other libraries.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput

WIDTH, HEIGHT, BITS, PACKED, STRIPS, SAMPLES, ROWS, LENGTHS, PREDICTOR, TILES, FORMAT = (
    256, 257, 258, 259, 273, 277, 278, 279, 317, 322, 339,
)  # fmt: skip
SIZES = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8}
WHOLE = {1: "B", 3: "H", 4: "I"}
PLAIN, DEFLATED = (1,), (8, 32946)
KINDS = {(1, 16): "u2", (2, 16): "i2", (1, 32): "u4", (2, 32): "i4", (3, 32): "f4", (3, 64): "f8"}
"""Sample format and bits to the kind of number."""
MOST_TAGS = 500


def tiff_values(raw: bytes, doing: str, most_pixels: int) -> tuple[NDArray[np.float64], str]:
    """
    The numbers of the first picture of a file, and a sentence where there are more pictures.

    Raises:
        BadInput: Not such a file, damaged, or larger than `most_pixels`.
    """
    try:
        return _values(raw, doing, most_pixels)
    except (struct.error, LookupError, zlib.error, ValueError, OverflowError):
        raise _bad(doing, "a damaged or cut-off TIFF") from None


def _values(raw: bytes, doing: str, most: int) -> tuple[NDArray[np.float64], str]:
    order = {b"II": "<", b"MM": ">"}.get(raw[:2], "")
    if not order or struct.unpack_from(order + "H", raw, 2)[0] != 42:
        raise _bad(doing, "bytes that are no TIFF of the usual kind")
    tags, following = _directory(raw, order, struct.unpack_from(order + "I", raw, 4)[0])
    wide, high = tags[WIDTH][0] if WIDTH in tags else 0, tags[HEIGHT][0] if HEIGHT in tags else 0
    bits, kind = tags.get(BITS, (1,)), tags.get(FORMAT, (1,))[0]
    if not 0 < wide * high <= most:
        raise _bad(doing, f"{wide} by {high} pixels")
    if tags.get(SAMPLES, (1,))[0] != 1 or (kind, bits[0]) not in KINDS:
        raise _bad(doing, f"{len(bits)} numbers of {bits[0]} bits a pixel, a picture in colours or greys")
    packed = tags.get(PACKED, (1,))[0]
    if TILES in tags or packed not in PLAIN + DEFLATED:
        raise _bad(doing, "tiles" if TILES in tags else f"the compression number {packed}")
    type_ = np.dtype(order + KINDS[kind, bits[0]])
    data = _strips(raw, tags, wide * high * type_.itemsize, inflate=packed in DEFLATED)
    if len(data) < wide * high * type_.itemsize:
        raise _bad(doing, f"{len(data)} bytes of pixels where {wide} by {high} pixels need more")
    values = np.frombuffer(data, type_, wide * high).reshape(high, wide)
    if tags.get(PREDICTOR, (1,))[0] == 2 and type_.kind in "iu":
        values = np.add.accumulate(values, axis=1, dtype=values.dtype.newbyteorder("="))
    elif tags.get(PREDICTOR, (1,))[0] != 1:
        raise _bad(doing, "numbers stored as differences of an unusual kind")
    return values.astype(np.float64), "the file holds more pictures; only the first was read" if following else ""


def _directory(raw: bytes, order: str, at: int) -> tuple[Mapping[int, tuple[int, ...]], int]:
    """Tags that hold whole numbers, and where the next picture starts."""
    count = struct.unpack_from(order + "H", raw, at)[0]
    if count > MOST_TAGS:
        raise ValueError(count)
    found = {}
    for entry in range(count):
        tag, type_, length = struct.unpack_from(order + "HHI", raw, at + 2 + 12 * entry)
        if type_ not in WHOLE or not length or length > len(raw):
            continue
        here = at + 2 + 12 * entry + 8
        if length * SIZES[type_] > 4:
            here = struct.unpack_from(order + "I", raw, here)[0]
        found[tag] = struct.unpack_from(f"{order}{length}{WHOLE[type_]}", raw, here)
    return found, struct.unpack_from(order + "I", raw, at + 2 + 12 * count)[0]


def _strips(raw: bytes, tags: Mapping[int, tuple[int, ...]], wanted: int, *, inflate: bool) -> bytes:
    """The pixels' bytes; never more than wanted, whatever a hostile file promises."""
    found = bytearray()
    for start, length in zip(tags[STRIPS], tags.get(LENGTHS, (wanted,)), strict=True):
        piece = raw[start : start + length]
        found += zlib.decompressobj().decompress(piece, max(wanted - len(found), 1)) if inflate else piece
        if len(found) >= wanted:
            break
    return bytes(found[:wanted])


def _bad(doing: str, found: str) -> BadInput:
    return BadInput(
        doing, found, "one picture with one number of 16 bits or more a pixel, in plain or deflated strips",
        "Export the temperatures as a 16-bit TIFF without compression, or as CSV.",
    )  # fmt: skip
