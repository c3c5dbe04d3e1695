"""The kind of a file that is being brought: what the person chose, else what its bytes tell."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import IO

from kilter.importers.brought_kinds import HEAD, TIFF, cut_at_a_line, kind_of
from kilter.store.models.attachment import KINDS
from kilter.store.verb import one_of
from kilter.store.verbs.files import DOING
from kilter.thermal.figures import number

BYTES_A_PIXEL = 8
"""Most that a pixel of a temperature picture takes as TIFF; a larger one is looked at no further."""


def kind_told(chosen: str, brought: IO[bytes]) -> str:
    """
    The kind.

    Args:
        chosen: By a person; '' leaves it to the bytes.
        brought: Read from its beginning, and left there.

    Raises:
        BadInput: Something was chosen that is no kind of file.
    """
    if chosen:
        return one_of(chosen, "kind", KINDS, DOING)
    brought.seek(0)
    head = brought.read(HEAD)
    if head.startswith(TIFF):
        head += brought.read(int(number("most_pixels")) * BYTES_A_PIXEL)
    elif len(head) == HEAD:
        head = cut_at_a_line(head)
    brought.seek(0)
    with tempfile.TemporaryDirectory(prefix="kilter-kind-") as folder:
        path = Path(folder) / "brought"
        path.write_bytes(head)
        return kind_of(path)
