"""The journal: its head, to be kept elsewhere, and its entries, to be checked by anybody."""

from __future__ import annotations

from typing import Any

from kilter.store.journal import fields_of, head
from kilter.store.models import JournalRow
from kilter.web.api.fields import TOLD
from kilter.web.api.operation import ROWS, Call, Operation, looks
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Many, Text, Whole

HASH = TOLD
HEAD = Record("JournalHead", {"number": Whole(), "hash": HASH})
ROW = Record("JournalEntry", {
    "number": Whole(1), "at": TOLD, "who": TOLD, "verb": TOLD, "what": TOLD, "why": TOLD,
    "before": Field(TOLD, "canonical JSON, as it went into the hash"), "after": TOLD, "evidence": TOLD,
    "previous": HASH, "hash": Field(HASH, "as it is written; whether it fits is for the reader to work out"),
})  # fmt: skip
JOURNAL = Record("Journal", {"rows": Many(ROW), "head": HEAD})


def _head(_: Call) -> Any:
    number, last = head()
    return {"number": number, "hash": last}


def _list(call: Call) -> Any:
    asked = call.query
    rows = JournalRow.objects.filter(number__gt=asked.get("after", 0)).order_by("number")
    rows = rows.filter(what=asked["what"]) if "what" in asked else rows
    piece = rows[: asked.get("limit", int(ROWS["usual"]))]
    return {"rows": [{**fields_of(one.entry()), "hash": one.hash} for one in piece], "head": _head(call)}


QUERY = {
    "after": may(Whole(), "only entries after this number"),
    "limit": may(Whole(1, int(ROWS["most"])), f"rows at most, {ROWS['usual']} unless given"),
    "what": may(Text(200), "only entries about this, as 'object NUMBER'"),
}  # fmt: skip
OPERATIONS: tuple[Operation, ...] = (
    looks("get-journal-head", "/journal/head", "Number and hash of the last entry.", _head, HEAD),
    looks("list-journal", "/journal", "Entries in order.", _list, JOURNAL, query=QUERY),
)  # fmt: skip
