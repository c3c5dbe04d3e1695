"""A file that was brought, opened by the readers of the core as if it lay there under its own name."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from kilter.store.models import Filing
from kilter.wiring.kept_file import read_kept

__all__ = ["read_brought", "read_kept"]

T = TypeVar("T")


def read_brought(filing: Filing, read: Callable[[Path], T]) -> T:
    """What a reader makes of a file; see `read_kept`."""
    return read_kept(filing.attachment.sha256, filing.name, read)
