"""Read the bytes of a file that a person gave: absent, too large and empty files are said in words."""

from __future__ import annotations

from pathlib import Path

from kilter.measure.errors import BadInput


def read_bytes(path: Path, doing: str, most: int) -> bytes:
    """
    All bytes of a file.

    Raises:
        BadInput: Absent, a folder, not readable, empty, or larger than `most` bytes.
    """
    try:
        size = path.stat().st_size
        raw = path.read_bytes() if size <= most else b""
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that no file can have"
        raise BadInput(doing, f"'{path.name}': {reason}", "a file that this user may read",
                       "Check the name and the folder.") from None  # fmt: skip
    if size > most:
        raise BadInput(doing, f"{size} bytes", f"up to {most} bytes", "Check that this is the file that was meant.")
    if not raw:
        raise BadInput(doing, "an empty file", "a file with a picture in it", "Copy the file again.")
    return raw
