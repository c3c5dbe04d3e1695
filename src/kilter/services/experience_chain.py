"""
The chain of a collection's experience: every entry as one line, each with the digest of the line before it.

The experience file and the record's table of what was learned hold the same lines, so one is checked like the other.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

from kilter.measure.errors import BadInput
from kilter.services.experience import COUNTS, VISIT, WITHDRAWN, Entry, Experience

EDITION = 1
HEAD = {"kilter_experience": EDITION}
HEAD_LINE = json.dumps(HEAD)


def digest_of(line: str) -> str:
    """
    SHA-256 of a line, without its line end.

    >>> digest_of(HEAD_LINE)[:8]
    '3811fb43'
    """
    return hashlib.sha256(line.encode()).hexdigest()


def line_of(entry: Entry, before: str) -> str:
    """
    An entry as its line.

    Args:
        entry: Plain data in its body.
        before: Digest of the line before; that of HEAD_LINE for the first.

    Raises:
        ValueError: A number in it is none.
    """
    row = {"number": entry.number, "time": entry.time, "who": entry.who, "kind": entry.kind, "before": before,
           "body": entry.body}  # fmt: skip
    return json.dumps(row, ensure_ascii=False, sort_keys=True, allow_nan=False)


def refuse_twice(experience: Experience, kind: str, body: Mapping[str, Any]) -> None:
    """
    Nothing, where the entry is a new one: a visit or a counts file is learned from once; withdrawn, it may come again.

    Raises:
        BadInput: It is there already.
    """
    for one in experience.standing():
        key = "visit" if kind == VISIT else "sha256"
        same = one.kind == kind and kind in (VISIT, COUNTS) and one.body.get(key) == body.get(key)
        if same or (one.kind == kind == WITHDRAWN and one.body.get("entry") == body.get("entry")):
            raise BadInput(
                "Cannot add to the experience", f"entry {one.number}, which has this already", "each once",
                f"To correct it, withdraw entry {one.number} first.",
            )  # fmt: skip
