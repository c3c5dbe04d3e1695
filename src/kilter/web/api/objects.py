"""Objects: find, receive, look at, change."""

from __future__ import annotations

from typing import Any

from kilter.planning.accession import accession_states
from kilter.store.models import CollectionObject, ObjectEdition
from kilter.store.models.collection import STATES
from kilter.store.search import find_objects
from kilter.store.verbs.objects import CHANGE, MOST, RECEIVE, edit_object, receive_object
from kilter.web.api.fields import BY, ID, NUMBER, TOLD, WHEN, WHY, by, moment
from kilter.web.api.found import board_in, object_of
from kilter.web.api.operation import PAGING, PLACES, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Anything, Maybe, Text, Words, filled, line

ACCESSION = Words(("", *accession_states()))
STATE, BOARD = Words(STATES), Maybe(PLACES["board"].shape)
ENTRY = {
    "kind": Field(Text(MOST["kind"]), "what it is, in words"),
    "made": Field(Text(MOST["made"]), "when, as far as known"),
    "owner": Field(Text(MOST["owner"]), "the legal owner, '' where nobody knows"),
    "accession": Field(ACCESSION, "'' where nobody wrote it down"),
    "location": Field(Text(MOST["location"])),
    "state": Field(STATE),
    "limits": Field(Text(MOST["limits"]), "under what conditions it may be shown or run"),
    "board": Field(BOARD, "key of its board"),
}
SHOWN = {name: Field(TOLD, one.words) if isinstance(one.shape, Text) else one for name, one in ENTRY.items()}
OBJECT = Record("Object", {
    "id": ID, "number": TOLD, "name": TOLD, **SHOWN, "edition": NUMBER, "received": WHEN,
})  # fmt: skip
OPTIONAL = {name: may(one.shape, one.words) for name, one in ENTRY.items()}
NEW = Record("NewObject", {
    "number": Field(line(MOST["number"]), "as on the label"), "name": filled(MOST["name"]), **OPTIONAL,
    "why": may(WHY, "how it came"),
})  # fmt: skip
CHANGED = Record("ObjectChange", {
    "edition": Field(NUMBER, "the edition that was looked at; where somebody was faster, nothing is written"),
    "why": Field(filled(2000), "the reason"),
    "number": may(line(MOST["number"])), "name": may(filled(MOST["name"])), **OPTIONAL,
})  # fmt: skip
EDITION = Record("ObjectEdition", {"edition": NUMBER, "fields": Anything(), "why": TOLD, **BY})


def tell_object(one: CollectionObject) -> dict[str, Any]:
    """An object's entry."""
    names = ("number", "name", "kind", "made", "owner", "accession", "location", "state", "limits", "edition")
    return {
        "id": one.pk, **{name: getattr(one, name) for name in names},
        "board": one.board.key if one.board else None, "received": moment(one.received),
    }  # fmt: skip


def _list(call: Call) -> Any:
    asked = call.query
    rows = find_objects(asked.get("words", ""), state=asked.get("state", ""), accession=asked.get("accession", ""))
    return told(call, rows.select_related("board"), tell_object)


def _fields(call: Call) -> dict[str, Any]:
    fields = {name: one for name, one in call.body.items() if name not in ("why", "edition")}
    return {**fields, "board": board_in(fields["board"])} if "board" in fields else fields


def _receive(call: Call) -> Any:
    return tell_object(receive_object(call.actor, _fields(call), call.body.get("why", "")))


def _change(call: Call) -> Any:
    body = call.body
    return tell_object(edit_object(call.actor, object_of(call), _fields(call), body["why"], edition=body["edition"]))


def _editions(call: Call) -> Any:
    rows = object_of(call).editions.select_related("who").order_by("-edition")
    return told(call, rows, _tell_edition)


def _tell_edition(one: ObjectEdition) -> dict[str, Any]:
    return {"edition": one.edition, "fields": one.fields, "why": one.why, **by(one)}


FOUND_BY = {
    "words": may(Text(200), "parts of words that all have to be somewhere in the entry or what is said about it"),
    "state": may(STATE), "accession": may(Words(accession_states())), **PAGING,
}  # fmt: skip
OPERATIONS: tuple[Operation, ...] = (
    looks("list-objects", "/objects", "Objects by number, all or those that are searched for.", _list,
          rows_of(OBJECT), query=FOUND_BY),
    makes("receive-object", "/objects", RECEIVE, "Receives an object.", _receive, OBJECT, NEW),
    looks("get-object", "/objects/{object}", "An object's entry.", lambda call: tell_object(object_of(call)), OBJECT),
    Operation("change-object", "PATCH", "/objects/{object}", CHANGE, "Writes a new edition of an object's entry; the "
              "one before stays to be read.", _change, OBJECT, takes=CHANGED),
    looks("list-object-editions", "/objects/{object}/editions", "Every edition of an object's entry, the latest first.",
          _editions, rows_of(EDITION), query=PAGING),
)  # fmt: skip
