"""What is said about an object: read, written down, superseded, taken back."""

from __future__ import annotations

from typing import Any

from kilter.store.models import Statement
from kilter.store.verbs.statements import WRITE, state, take_back
from kilter.web.api.fields import BY, ID, TOLD, VISIT, by, number_of
from kilter.web.api.found import object_of, statement_of, visit_in
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Maybe, Number, Text, Truth, Whole, Words, filled

KIND = Words(Statement.KINDS)
RELIABILITY = Maybe(Number(0, 1))
STATEMENT = Record("Statement", {
    "id": ID, "kind": KIND, "text": TOLD, "source": TOLD, "reliability": RELIABILITY, "when": TOLD,
    "part": TOLD, "mode": TOLD, "visit": Maybe(Whole(1)), **BY,
    "supersedes": Field(Maybe(Whole(1)), "id of the statement it takes the place of"),
    "withdrawn": Field(Truth(), "it takes back the one it supersedes"),
    "stands": Field(Truth(), "nothing supersedes it and nobody took it back"),
})  # fmt: skip
NEW = Record("NewStatement", {
    "kind": KIND, "text": filled(20_000),
    "source": may(Text(200), "who or what says so"),
    "reliability": may(RELIABILITY, "0, which tells nothing, to 1; null where nobody judged it"),
    "when": may(Text(120), "of what time it speaks"),
    "part": may(Text(60), "reference of the part it names"),
    "mode": may(Text(60), "failure mode or sign it names"),
    "visit": VISIT,
})  # fmt: skip
REASON = Record("Reason", {"why": Field(filled(2000), "the reason")})


def tell_statement(one: Statement) -> dict[str, Any]:
    """A statement."""
    names = ("kind", "text", "source", "reliability", "when", "part", "mode", "withdrawn")
    superseded = Statement.objects.filter(supersedes=one).exists()
    return {
        "id": one.pk, **{name: getattr(one, name) for name in names}, "visit": number_of(one.visit), **by(one),
        "supersedes": one.supersedes_id, "stands": not (one.withdrawn or superseded),
    }  # fmt: skip


def _list(call: Call) -> Any:
    rows = object_of(call).statements.select_related("who", "visit").order_by("pk")
    return told(call, rows if call.query.get("all") else rows.standing(), tell_statement)


def _write(call: Call, earlier: Statement | None = None) -> Any:
    about, body = object_of(call), call.body
    optional = {name: one for name, one in body.items() if name not in ("kind", "text", "visit")}
    row = state(
        call.actor, about, body["kind"], body["text"], visit=visit_in(call, about), supersedes=earlier, **optional
    )
    return tell_statement(row)


def _take_back(call: Call) -> Any:
    return tell_statement(take_back(call.actor, statement_of(call), call.body["why"]))


ALL, ONE = "/objects/{object}/statements", "/objects/{object}/statements/{statement}"
OPERATIONS: tuple[Operation, ...] = (
    looks("list-statements", ALL, "What is said about an object.", _list, rows_of(STATEMENT),
          query={"all": may(Truth(), "also what was superseded or taken back"), **PAGING}),
    makes("add-statement", ALL, WRITE, "Writes something down about an object.", _write, STATEMENT, NEW),
    looks("get-statement", ONE, "One statement.", lambda call: tell_statement(statement_of(call)), STATEMENT),
    makes("supersede-statement", f"{ONE}/supersede", WRITE, "Puts a statement in the place of an earlier one, which "
          "stays to be read.", lambda call: _write(call, statement_of(call)), STATEMENT, NEW),
    makes("take-statement-back", f"{ONE}/take-back", WRITE, "Takes a statement back, with a reason.", _take_back,
          STATEMENT, REASON),
)  # fmt: skip
