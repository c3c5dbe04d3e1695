"""The table of operations: everything a program may ask for."""

from __future__ import annotations

from functools import cache
from typing import Any

from kilter.web.api import (
    bench,
    boards,
    display,
    entries,
    files,
    jobs,
    journal,
    learned,
    objects,
    people,
    power,
    proposals,
    repairs,
    soak,
    statements,
    visits,
)
from kilter.web.api.document import document
from kilter.web.api.operation import Call, Operation, looks
from kilter.web.api.shapes import Anything


@cache
def described() -> dict[str, Any]:
    """The OpenAPI document."""
    return document(OPERATIONS)


def _describe(_: Call) -> Any:
    return described()


OPERATIONS: tuple[Operation, ...] = (
    looks("get-description", "/openapi.json", "This description.", _describe, Anything(), verb=""),
    *(one for topic in (people, objects, statements, files, visits, entries, power, bench, soak, proposals, repairs,
                        display, boards, learned, jobs, journal) for one in topic.OPERATIONS),
)  # fmt: skip
"""Every operation, in the order of the document."""
