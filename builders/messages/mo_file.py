"""
Compiled catalogues: the binary form that programs look translations up in.

Source: GNU gettext manual, 'The Format of GNU MO Files': magic number, revision, number of texts, offsets of two tables
of (length, offset), then the texts, each ended by a zero byte, sorted by the original. The hash table may be left out.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence

from messages.message import Message

MAGIC, REVISION, HEAD_BYTES, ROW_BYTES = 0x950412DE, 0, 28, 8
CONTEXT_END, FORM_END = "\x04", "\x00"


def compiled(header: str, translations: Mapping[Message, Sequence[str]]) -> bytes:
    """
    The file; the same catalogue always gives the same bytes.

    Args:
        header: Lines 'Name: value', kept under the empty text.
        translations: Of every message its forms, one where there is no plural; where a form is empty it is left out.
    """
    pairs = {"": header} | {original(one): FORM_END.join(forms) for one, forms in translations.items() if all(forms)}
    rows = sorted((key.encode("utf-8"), value.encode("utf-8")) for key, value in pairs.items())
    first, second = HEAD_BYTES, HEAD_BYTES + ROW_BYTES * len(rows)
    place = second + ROW_BYTES * len(rows)
    tables, texts = [], b""
    for side in (0, 1):
        for row in rows:
            tables.append(struct.pack("<II", len(row[side]), place + len(texts)))
            texts += row[side] + b"\0"
    head = struct.pack("<7I", MAGIC, REVISION, len(rows), first, second, 0, place)
    return head + b"".join(tables) + texts


def original(message: Message) -> str:
    """What a message is filed under: context and text, and behind a zero byte the plural."""
    context = f"{message.context}{CONTEXT_END}" if message.context else ""
    return context + message.text + (f"{FORM_END}{message.plural}" if message.plural else "")
