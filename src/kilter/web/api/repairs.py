"""What was done to an object, what was done to make it safer, and where the parts went."""

from __future__ import annotations

from typing import Any

from kilter.store.models import PartMove, RemovedPart, Repair
from kilter.store.verbs.repairs import DOING, MOVE, REPAIR, SAFE, make_safe, move_part, record_repair
from kilter.web.api.fields import BY, ID, NUMBER, TOLD, VISIT, WHY, by, number_of
from kilter.web.api.found import entry_in, object_of, part_of, piece_in, version_in, visit_in
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.proposals import GRADE
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Many, Maybe, Text, Truth, Whole, Words, filled

AGREED = Record("Agreed", {
    "proposal": Field(NUMBER, "number of the proposal"), "version": NUMBER,
    "object": may(Whole(1), "id of the object it is for; the object of the address unless given"),
})  # fmt: skip
UNDER = may(Maybe(AGREED), "the version of a proposal that it rests on")
REMOVED = Record("NewRemovedPart", {
    "number": may(Text(80), "as on its bag; made from the object's number unless given"),
    "words": may(Text(4000), "marking as read, date code, how it looks"),
    "original": may(Maybe(Truth()), "it left the factory in this object; null where nobody can tell"),
    "place": may(Text(200), "where it lies"),
})  # fmt: skip
DONE = {"grade": GRADE, "words": Field(filled(10_000), "what was done, with materials"), "part": may(Text(120)),
        "visit": VISIT, "agreed": UNDER, "removed": may(Maybe(REMOVED), "the part that came out")}  # fmt: skip
NEW = Record("NewRepair", {
    "act": Words(tuple(act for act in Repair.ACTS if act != "made safe")), **DONE,
    "entry": may(Maybe(NUMBER), "number of the entry of that visit that tells the diagnosis of it"),
    "fitted": may(Text(4000), "what was fitted, its marking and where it came from"),
    "fitted_piece": may(Maybe(Whole(1)), "id of the removed part that was fitted"),
})  # fmt: skip
NEW_SAFE = Record("NewMadeSafe", DONE)
MOVED = Record("Move", {"disposition": Words(PartMove.DISPOSITIONS), "place": TOLD, "why": TOLD, **BY})
PIECE = Record("RemovedPart", {
    "id": ID, "number": TOLD, "part": TOLD, "words": TOLD, "original": Maybe(Truth()),
    "repair": Field(Whole(1), "id of the repair during which it came out"),
    "moves": Field(Many(MOVED), "where it went, the last one is where it is"), **BY,
})  # fmt: skip
NEW_MOVE = Record("NewMove", {
    "disposition": Words(PartMove.DISPOSITIONS), "place": may(Text(200), "where it lies"),
    "why": may(WHY, "the reason; for destroying it there has to be one"), "agreed": UNDER,
})  # fmt: skip
REPAIRED = Record("Repair", {
    "id": ID, "act": Words(Repair.ACTS), "grade": GRADE, "part": TOLD, "words": TOLD, "fitted": TOLD,
    "fitted_piece": Maybe(Whole(1)), "making_safe": Truth(), "visit": Maybe(NUMBER), "entry": Maybe(NUMBER),
    "agreed": Maybe(AGREED), "removed": Field(Many(Whole(1)), "ids of the parts that came out"), **BY,
})  # fmt: skip


def tell_repair(one: Repair) -> dict[str, Any]:
    """A repair."""
    version, names = one.proposal_version, ("act", "grade", "part", "words", "fitted", "making_safe")
    agreed = None
    if version is not None:
        of = version.proposal
        agreed = {"object": of.object_id, "proposal": of.number, "version": version.version}
    return {
        "id": one.pk, **{name: getattr(one, name) for name in names}, "fitted_piece": one.fitted_piece_id,
        "visit": number_of(one.visit), "entry": number_of(one.entry), "agreed": agreed,
        "removed": list(one.removed_parts.order_by("pk").values_list("pk", flat=True)), **by(one),
    }  # fmt: skip


def tell_piece(one: RemovedPart) -> dict[str, Any]:
    """A removed part and where it went."""
    moves = [{"disposition": each.disposition, "place": each.place, "why": each.why, **by(each)}
             for each in one.moves.select_related("who").order_by("pk")]  # fmt: skip
    names = ("number", "part", "words", "original")
    known = {name: getattr(one, name) for name in names}
    return {"id": one.pk, **known, "repair": one.repair_id, "moves": moves, **by(one)}


def _list(call: Call) -> Any:
    rows = object_of(call).repairs.select_related("who", "visit", "entry", "proposal_version__proposal").order_by("-pk")
    return told(call, rows, tell_repair)


def _repair(call: Call) -> Any:
    about, body = object_of(call), call.body
    visit = visit_in(call, about)
    row = record_repair(
        call.actor, about, body["act"], body["grade"], body["words"], part=body.get("part", ""),
        fitted=body.get("fitted", ""), fitted_piece=piece_in(body.get("fitted_piece")), visit=visit,
        entry=entry_in(body.get("entry"), visit, DOING), version=version_in(body.get("agreed"), about),
        removed=_removed(body),
    )  # fmt: skip
    return tell_repair(row)


def _make_safe(call: Call) -> Any:
    about, body = object_of(call), call.body
    row = make_safe(
        call.actor, about, body["grade"], body["words"], part=body.get("part", ""), visit=visit_in(call, about),
        version=version_in(body.get("agreed"), about), removed=_removed(body),
    )  # fmt: skip
    return tell_repair(row)


def _removed(body: Any) -> dict[str, Any] | None:
    """The part that came out; an empty object tells that one did, with nothing known about it."""
    given = body.get("removed")
    return None if given is None else {"number": "", "words": "", "original": None, "place": "", **given}


def _move(call: Call) -> Any:
    piece, body = part_of(call), call.body
    move_part(call.actor, piece, body["disposition"], body.get("place", ""), body.get("why", ""),
              version=version_in(body.get("agreed"), piece.object))  # fmt: skip
    return tell_piece(piece)


ONE = "/objects/{object}"
OPERATIONS: tuple[Operation, ...] = (
    looks("list-repairs", f"{ONE}/repairs", "What was done to an object, the latest first.", _list, rows_of(REPAIRED),
          query=PAGING),
    makes("record-repair", f"{ONE}/repairs", REPAIR, "Records work that was done; where its grade needs consent, under "
          "an agreed proposal.", _repair, REPAIRED, NEW),
    makes("make-safe", f"{ONE}/made-safe", SAFE, "Records what was done to make an object safer; no consent is waited "
          "for.", _make_safe, REPAIRED, NEW_SAFE),
    looks("list-parts", f"{ONE}/parts", "Parts that came out of an object.", lambda call: told(
        call, object_of(call).removed_parts.select_related("who").order_by("pk"), tell_piece), rows_of(PIECE),
        query=PAGING),
    looks("get-part", f"{ONE}/parts/{{part}}", "One of them.", lambda call: tell_piece(part_of(call)), PIECE),
    makes("move-part", f"{ONE}/parts/{{part}}/moves", MOVE, "Tells where a removed part went.", _move, PIECE, NEW_MOVE),
)  # fmt: skip
