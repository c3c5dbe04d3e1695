"""Files of a dossier, checked against the hash under which they were recorded before they are handed over."""

from __future__ import annotations

import hashlib
from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.records.dossier import Attachment


def checked_file(one: Attachment) -> Path:
    """
    Where the file lies, once its bytes were found to be those that were recorded.

    Raises:
        BadInput: They are not at hand, or are others.
    """
    doing, again = f"Cannot hand over the attachment '{one.name}'", "Look for it in a copy of the data folder."
    if one.path is None:
        raise BadInput(doing, "no file for it", "the file as it was filed", again)
    try:
        with one.path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise BadInput(doing, f"{error.strerror or 'an error of the disk'} where it should be",
                       "the file as it was filed", again) from None  # fmt: skip
    if digest != one.sha256.lower():
        raise BadInput(doing, "bytes that are not those that were recorded", f"the file with SHA-256 {one.sha256}",
                       again)  # fmt: skip
    return one.path
