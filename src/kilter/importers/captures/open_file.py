"""A capture's file: is it there, how large, its hash, and its first bytes."""

from __future__ import annotations

import hashlib
from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.signals.settings import setting

FORMS = "a table of numbers as text (CSV), WAV, or NumPy .npy or .npz"


def refused(path: Path, found: str, allowed: str = FORMS, do_next: str = "Export the capture again.") -> BadInput:
    """The error for a capture that cannot be used."""
    return BadInput(f"Cannot read the capture {path.name}", found, allowed, do_next)


def first_bytes(path: Path) -> bytes:
    """
    The head of the file.

    Raises:
        BadInput: Absent, a folder, not readable, empty, or larger than is allowed.
    """
    limit = int(setting("largest_file"))
    try:
        if not path.is_file():
            raise refused(path, "no file of that name" if not path.exists() else "no regular file",
                          do_next="Check the name and the folder.")  # fmt: skip
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(int(setting("head")))
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "a name that no file can have"
        raise refused(path, reason, "a file that this user may read", "Check the name and the folder.") from None
    if size > limit:
        raise refused(path, f"{size} bytes", f"up to {limit} bytes", "Export a shorter record.")
    if not head:
        raise refused(path, "an empty file")
    return head


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
