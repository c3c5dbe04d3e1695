"""Visits: open, look at, close, reopen, give another board edition."""

from __future__ import annotations

from typing import Any

from kilter.measure.instruments import instruments
from kilter.store.models import BoardEdition, Visit, VisitEvent
from kilter.store.verbs.visits import OPEN, RECORD, open_visit, set_visit
from kilter.web.api.fields import BY, NUMBER, TOLD, WHY, by
from kilter.web.api.found import edition_in, object_of, visit_of
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Many, Maybe, Truth, Whole, Words

INSTRUMENTS = tuple(instruments())
BOARD = Record("BoardOfVisit", {"board": TOLD, "edition": NUMBER})
EVENT = Record("VisitEvent", {"kind": Words(VisitEvent.KINDS), "why": TOLD, "edition": Maybe(BOARD), **BY})
VISIT = Record("Visit", {
    "number": NUMBER, "reason": TOLD, "is_open": Truth(), "not_working": Truth(), "known_good": Truth(),
    "instruments": Field(Many(TOLD), "what is at hand; none for the usual ones"),
    "board": Field(Maybe(BOARD), "what a diagnosis rests on now"),
    "entries": Field(Whole(), "how many; the number of the last one"),
    "events": Field(Many(EVENT), "what happened to the visit itself, in order"), **BY,
})  # fmt: skip
NEW = Record("NewVisit", {
    "reason": may(WHY, "why"),
    "edition": may(Maybe(NUMBER), "edition of the object's board; the latest unless given"),
    "not_working": may(Truth(), "somebody saw the object fail; true unless given"),
    "known_good": may(Truth(), "it is read as a good specimen; false unless given"),
    "instruments": may(Many(Words(INSTRUMENTS), len(INSTRUMENTS), different=True), "what is at hand"),
})  # fmt: skip
NEW_EVENT = Record("NewVisitEvent", {
    "kind": Words(VisitEvent.KINDS), "why": may(WHY),
    "edition": may(Maybe(NUMBER), "edition of the object's board, with 'board' alone"),
})  # fmt: skip


def tell_visit(one: Visit) -> dict[str, Any]:
    """A visit."""
    events = one.events.select_related("who", "board_edition__board").order_by("pk")
    return {
        "number": one.number, "reason": one.reason, "is_open": one.is_open(), "not_working": one.not_working,
        "known_good": one.known_good, "instruments": [name for name in one.instruments.split(",") if name],
        "board": _tell_board(one.board_now()), "entries": one.entries.count(),
        "events": [_tell_event(each) for each in events], **by(one),
    }  # fmt: skip


def _tell_board(edition: BoardEdition | None) -> dict[str, Any] | None:
    return None if edition is None else {"board": edition.board.key, "edition": edition.edition}


def _tell_event(one: VisitEvent) -> dict[str, Any]:
    return {"kind": one.kind, "why": one.why, "edition": _tell_board(one.board_edition), **by(one)}


def _list(call: Call) -> Any:
    rows = object_of(call).visits.select_related("who", "board_edition__board").order_by("-number")
    return told(call, rows, tell_visit)


def _open(call: Call) -> Any:
    about, body = object_of(call), call.body
    row = open_visit(
        call.actor, about, body.get("reason", ""), edition=edition_in(body.get("edition"), about.board),
        not_working=body.get("not_working", True), known_good=body.get("known_good", False),
        instruments=",".join(body.get("instruments", ())),
    )  # fmt: skip
    return tell_visit(row)


def _event(call: Call) -> Any:
    visit, body = visit_of(call), call.body
    edition = edition_in(body.get("edition"), visit.object.board)
    set_visit(call.actor, visit, body["kind"], body.get("why", ""), edition)
    return tell_visit(visit)


ALL, ONE = "/objects/{object}/visits", "/objects/{object}/visits/{visit}"
OPERATIONS: tuple[Operation, ...] = (
    looks("list-visits", ALL, "Visits to an object, the latest first.", _list, rows_of(VISIT), query=PAGING),
    makes("open-visit", ALL, OPEN, "Opens a visit.", _open, VISIT, NEW),
    looks("get-visit", ONE, "One visit.", lambda call: tell_visit(visit_of(call)), VISIT),
    makes("change-visit", f"{ONE}/events", RECORD, "Closes or reopens a visit, or has it go on with another board "
          "edition.", _event, VISIT, NEW_EVENT),
)  # fmt: skip
