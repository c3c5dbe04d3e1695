"""Memory dumps: plain binary files, bytes in address order."""

from __future__ import annotations

from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.signals.memory.contents import Contents, contents_of
from kilter.signals.memory.figures import number


def read_dump(path: Path, width: int = 8, *, big_endian: bool = False) -> Contents:
    """
    The words of a binary file.

    Raises:
        BadInput: Absent, a folder, not readable, too small, too large, or no whole number of words.
    """
    doing, most = f"Cannot read the dump {path.name}", int(number("largest_bytes"))
    try:
        size = path.stat().st_size
        raw = path.read_bytes() if size <= most else b""
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that no file can have"
        raise BadInput(doing, f"'{path.name}': {reason}", "a binary file that this user may read",
                       "Check the name and the folder.") from None  # fmt: skip
    if size > most:
        raise BadInput(doing, f"{size} bytes", f"up to {most} bytes", "Check that this is the file that was meant.")
    if raw[:1] == b":" and raw[1:9].isalnum():
        raise BadInput(doing, "text records that begin with ':'", "a plain binary file, bytes in address order",
                       "Save the read again as binary.")  # fmt: skip
    return contents_of(raw, width, big_endian=big_endian, what=path.name)
