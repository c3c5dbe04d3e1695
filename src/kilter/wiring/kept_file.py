"""A content that the record keeps, opened by the readers of the core as if it lay there under its own name."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from kilter.measure.errors import BadInput
from kilter.store.verbs.files import file_store

T = TypeVar("T")
MOST_ENDING = 12


def read_kept(sha256: str, name: str, read: Callable[[Path], T]) -> T:
    """
    What a reader makes of a content.

    The ending of the name it came with is kept, for it tells the form of some; the rest is never used as a path, and
    stands in messages only.

    Args:
        sha256: Of the content.
        name: It came with.
        read: Takes a path; what it gives may not need the file any more.

    Raises:
        BadInput: The file is missing or cannot be read so; under the name it came with.
    """
    ending = "".join(sign for sign in Path(name).suffix[:MOST_ENDING] if sign.isalnum() or sign == ".")
    with tempfile.TemporaryDirectory(prefix="kilter-brought-") as folder:
        path = Path(folder) / f"brought{ending}"
        path.symlink_to(file_store().path(sha256).resolve())
        try:
            return read(path)
        except BadInput as error:
            parts = (error.doing, error.found, error.allowed, error.do_next)
            raise BadInput(*(_named(one, folder, path.name, name) for one in parts)) from None


def _named(words: str, folder: str, taken: str, name: str) -> str:
    return words.replace(f"{folder}/", "").replace(taken, name)
