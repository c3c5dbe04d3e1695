"""Read a text file that a person gave: absent, too large and undecodable files are said in words."""

from __future__ import annotations

from pathlib import Path

from kilter.measure.errors import BadInput

LARGEST = 50_000_000
"""Bytes; the largest board text met in practice is below 10 MB."""


def read_text(path: Path, what: str) -> str:
    """
    The text of a file: UTF-8 with or without a byte-order mark, UTF-16 with one, else Western (cp1252) bytes.

    Raises:
        BadInput: Absent, a folder, not readable, larger than LARGEST, or binary.
    """
    try:
        size = path.stat().st_size
        raw = path.read_bytes() if size <= LARGEST else b""
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that no file can have"
        raise BadInput(
            f"Cannot read {what}", f"'{path.name}': {reason}", "a text file that this user may read",
            "Check the name and the folder.",
        ) from None  # fmt: skip
    if size > LARGEST:
        raise BadInput(f"Cannot read {what}", f"'{path.name}' with {size} bytes", f"up to {LARGEST} bytes",
                       "Check that this is the text file that was meant.")  # fmt: skip
    return _decode(raw, path, what)


def _decode(raw: bytes, path: Path, what: str) -> str:
    encodings = ("utf-16",) if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise BadInput(f"Cannot read {what}", f"'{path.name}', which holds bytes that are no text",
                   "plain text in UTF-8", "Save the file as plain text (UTF-8) and try again.")  # fmt: skip
