"""
A compiled catalogue of translations, read whole.

Source: GNU gettext manual, 'The Format of GNU MO Files': magic number, revision, number of texts, offsets of two tables
of (length, offset). The byte order is that of the magic number.
"""

from __future__ import annotations

import struct
from pathlib import Path

MAGIC = 0x950412DE
HEAD, ROW = 20, 8


def read_catalogue(path: Path) -> dict[str, str]:
    """
    Text to translation, without the header.

    Raises:
        OSError: The file cannot be read.
        ValueError: It is no compiled catalogue, or cut off.
    """
    data = path.read_bytes()
    if len(data) < HEAD:
        raise ValueError(f"no compiled catalogue: {path.name}")
    order = "<" if struct.unpack_from("<I", data)[0] == MAGIC else ">"
    magic, _, count, originals, translations = struct.unpack_from(f"{order}5I", data)
    if magic != MAGIC or max(originals, translations) + ROW * count > len(data):
        raise ValueError(f"no compiled catalogue: {path.name}")
    found = {}
    for number in range(count):
        one, other = (_text(data, order, table + ROW * number) for table in (originals, translations))
        found[one] = other
    found.pop("", None)
    return found


def _text(data: bytes, order: str, at: int) -> str:
    length, start = struct.unpack_from(f"{order}II", data, at)
    return data[start : start + length].decode("utf-8")
