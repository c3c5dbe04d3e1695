"""What a program may ask for: one row says its address, its verb, what it takes and what it gives."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import IO, Any

from kilter.measure.tables import table
from kilter.store.models import Person
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Many, Shape, Text, Whole

Work = Callable[["Call"], Any]
LOOK = "look at the collection"
MOST_NUMBER = 2**31 - 1
ROWS = table("web_api")["rows"]

PLACES: dict[str, Field] = {
    "object": Field(Whole(1), "`id` of an object"),
    "statement": Field(Whole(1), "`id` of a statement about that object"),
    "visit": Field(Whole(1, MOST_NUMBER), "`number` of a visit to that object"),
    "proposal": Field(Whole(1, MOST_NUMBER), "`number` of a proposal for that object"),
    "part": Field(Whole(1), "`id` of a part that came out of that object"),
    "file": Field(Whole(1), "`id` of a file of that object"),
    "job": Field(Whole(1), "`id` of a job"),
    "lesson": Field(Whole(1, MOST_NUMBER), "`number` of a lesson"),
    "board": Field(Text(60, r"[A-Za-z0-9_\-]+", "letters a to z, digits, - and _"), "`key` of a board"),
    "edition": Field(Whole(1, MOST_NUMBER), "number of an edition of that board"),
    "row": Field(Whole(1), "`id` of an entry about that object on display"),
    "person": Field(Text(16, r"[a-z0-9\-]+", "as in 'who'"), "`key` of a person"),
}
"""What may stand in an address, by the name between its braces."""


@dataclass(frozen=True)
class Call:
    """
    One request, checked.

    Args:
        actor: Whose key it carries.
        path: What stands in the address, by the names of PLACES.
        query: What stands behind the question mark.
        body: The JSON of the request, {} where it takes none.
        upload: The bytes of the request, for an operation that takes a file.
    """

    actor: Person
    path: Mapping[str, Any] = field(default_factory=dict)
    query: Mapping[str, Any] = field(default_factory=dict)
    body: Mapping[str, Any] = field(default_factory=dict)
    upload: IO[bytes] | None = None


@dataclass(frozen=True)
class Operation:
    """
    A row of the table.

    Args:
        name: `operationId` of the document.
        method: GET, POST or PATCH.
        path: Below /api, with names of PLACES in braces.
        verb: A key of `kilter.services.permissions.VERBS`; '' for everybody, also without a key.
        words: What it does.
        work: Does it.
        gives: Shape of the answer; None for bytes.
        query: Parameters behind the question mark.
        takes: Shape of the JSON it takes, or None.
        takes_file: It takes bytes.
        status: Of the answer where it went well.
        most: Name of the limit of its JSON, in data/web_api.toml under 'body'.
    """

    name: str
    method: str
    path: str
    verb: str
    words: str
    work: Work
    gives: Shape | None
    query: Mapping[str, Field] = field(default_factory=dict)
    takes: Record | None = None
    takes_file: bool = False
    status: int = 200
    most: str = "most_bytes"

    @property
    def places(self) -> tuple[str, ...]:
        """Names in braces, in order."""
        return tuple(part[1:-1] for part in self.path.split("/") if part.startswith("{"))

    @property
    def may_conflict(self) -> bool:
        """Whether the record may refuse a request that fits: every change, and what needs a board that loads."""
        return self.method != "GET" or self.name in ("look-at-bench", "fetch-board-file")


def looks(name: str, path: str, words: str, work: Work, gives: Shape | None, **more: Any) -> Operation:
    """An operation that changes nothing."""
    return Operation(name, "GET", path, more.pop("verb", LOOK), words, work, gives, **more)


def makes(
    name: str, path: str, verb: str, words: str, work: Work, gives: Shape, takes: Record | None, **more: Any
) -> Operation:
    """An operation that adds to the record."""
    return Operation(name, "POST", path, verb, words, work, gives, takes=takes, status=201, **more)


PAGING: dict[str, Field] = {
    "limit": may(Whole(1, int(ROWS["most"])), f"rows at most, {ROWS['usual']} unless given"),
    "offset": may(Whole(0, MOST_NUMBER), "rows to leave out at the beginning"),
}


def rows_of(record: Record, name: str = "") -> Record:
    """The shape of a list that is told piece by piece."""
    return Record(name or f"{record.name}List",
                  {"rows": Many(record), "total": Whole(), "limit": Whole(), "offset": Whole()})  # fmt: skip


def told(call: Call, rows: Any, tell: Callable[[Any], dict[str, Any]]) -> dict[str, Any]:
    """
    One piece of a list.

    Args:
        call: With PAGING in its query.
        rows: A queryset in a fixed order.
        tell: A row as plain data.
    """
    limit, offset = call.query.get("limit", int(ROWS["usual"])), call.query.get("offset", 0)
    piece = [tell(one) for one in rows[offset : offset + limit]]
    return {"rows": piece, "total": rows.count(), "limit": limit, "offset": offset}
