"""Entries of a visit: read them, add a reading or a deed, leave a test out, undo."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.services.visit_log import KINDS, READ, SKIPPED, UNDONE
from kilter.services.wording import said
from kilter.store.models import Visit, VisitEntry
from kilter.store.verbs.visits import MOST_SIGNS, MOST_WORDS, RECORD, add_entry, entry_of, log_of
from kilter.web.api.fields import BY, NUMBER, TOLD, by
from kilter.web.api.found import visit_of
from kilter.web.api.operation import MOST_NUMBER, PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Anything, Many, Maybe, Number, Text, Truth, Whole, Words, filled
from kilter.wiring.record_bench import session_of

AFTER = Field(Whole(0, MOST_NUMBER), "number of the last entry that was seen, 0 for none; where another was added "
              "meanwhile, nothing is written")  # fmt: skip
UNDERSTOOD = Record("Understood", {
    **dict.fromkeys(MOST_SIGNS, TOLD),
    "value": Field(Maybe(Number()), "SI unit; null for a word, and for a number beyond what the instrument shows"),
    "uncertainty": Field(Maybe(Number()), "standard uncertainty (k = 1), the same unit"), "doubtful": Truth(),
    "said": Field(TOLD, "value or word for people"),
})  # fmt: skip
ENTRY = Record("Entry", {
    "number": NUMBER, "kind": Words(KINDS), "words": Field(Anything(), "as they were typed"),
    "reading": Field(Maybe(UNDERSTOOD), "what the words mean, for a reading or a deed"),
    "undone": Field(Truth(), "it was taken back and no longer counts"), **BY,
})  # fmt: skip
PLACE = {"point": Field(filled(120), "a point, part or pin of the board")}
WORDS = {
    **PLACE,
    "value": Field(filled(200), "as in a readings file: '4k7', '-12.1 V', 'pulsing'; a deed as 'renewed'"),
    "quantity": may(Text(40), "may be left out where the value tells it; 'done' for a deed"),
    "uncertainty": may(Text(40), "standard uncertainty, '0.1 V' or '2 %'"),
    "instrument": may(Text(60)), "state": may(Text(120), "state of the object; may be left out where one alone fits"),
    "note": may(Text(MOST_WORDS)), "doubtful": may(Truth(), "whoever took it would not stake much on it"),
}  # fmt: skip
NEW = Record("NewReading", {"after": AFTER, **WORDS})
NEW_SEVERAL = Record("NewReadings", {
    "after": AFTER, "readings": Many(Record("ReadingOfSeveral", WORDS), int(table("web_api")["rows"]["most"])),
})  # fmt: skip
SEVERAL = Record("EntriesAdded", {"rows": Many(ENTRY)})
NEW_SKIP = Record("NewSkip", {
    "after": AFTER, **PLACE, "quantity": filled(40), "state": filled(120), "note": may(Text(MOST_WORDS), "why"),
})  # fmt: skip
NEW_UNDO = Record("NewUndo", {"after": AFTER, "entry": Field(NUMBER, "number of an entry that stands")})


def tell_entry(row: VisitEntry, undone: frozenset[str]) -> dict[str, Any]:
    """An entry; `undone` has the numbers of those that were taken back."""
    reading = None
    if row.kind == READ:
        names = (*MOST_SIGNS, "value", "uncertainty", "doubtful")
        meant = entry_of(row).reading
        reading = {**{name: getattr(row, name) for name in names}, "said": said(meant) if meant else ""}
    return {
        "number": row.number, "kind": row.kind, "words": row.words, "reading": reading,
        "undone": str(row.number) in undone, **by(row),
    }  # fmt: skip


def undone_in(visit: Visit) -> frozenset[str]:
    """Numbers of the entries that were taken back."""
    return frozenset(row.words.get("entry", "") for row in VisitEntry.objects.filter(visit=visit, kind=UNDONE))


def last_of(visit: Visit) -> dict[str, Any]:
    """The entry that was just added."""
    row = VisitEntry.objects.filter(visit=visit).select_related("who").order_by("-number")[0]
    return tell_entry(row, undone_in(visit))


def check_seen(after: int, there: int) -> None:
    """
    Lets a program on that saw the latest entry.

    Raises:
        BadInput: Somebody was faster.
    """
    if after != there:
        raise BadInput("Cannot record this", f"entry {there}, while the request was made after entry {after}",
                       "requests after the latest entry", "Look at what was added, then send it again.")  # fmt: skip


def _list(call: Call) -> Any:
    visit = visit_of(call)
    undone = undone_in(visit)
    rows = visit.entries.select_related("who").order_by("number")
    return told(call, rows, lambda row: tell_entry(row, undone))


def _read(call: Call) -> Any:
    visit = visit_of(call)
    with session_of(visit, call.actor) as session:
        check_seen(call.body["after"], len(session.log.entries))
        session.read(_typed(call.body))
    return last_of(visit)


def _read_several(call: Call) -> Any:
    visit, after = visit_of(call), call.body["after"]
    with session_of(visit, call.actor) as session:
        check_seen(after, len(session.log.entries))
        session.read_all([_typed(one) for one in call.body["readings"]])
    rows = VisitEntry.objects.filter(visit=visit, number__gt=after).select_related("who").order_by("number")
    return {"rows": [tell_entry(row, frozenset()) for row in rows]}


def _typed(body: Mapping[str, Any]) -> dict[str, str]:
    """A reading's words by column, those that were given."""
    words = {name: str(one).strip() for name, one in body.items() if name not in ("after", "doubtful")}
    words["doubtful"] = "yes" if body.get("doubtful") else ""
    return {name: word for name, word in words.items() if word}


def _skip(call: Call) -> Any:
    visit, names = visit_of(call), ("point", "quantity", "state", "note")
    words = {name: call.body[name].strip() for name in names if call.body.get(name, "").strip()}
    row = add_entry(call.actor, visit, SKIPPED, words, None, after=call.body["after"])
    return tell_entry(row, frozenset())


def _undo(call: Call) -> Any:
    visit, entry = visit_of(call), call.body["entry"]
    log = log_of(visit)
    check_seen(call.body["after"], len(log.entries))
    if entry not in {one.number for one in log.standing()}:
        raise BadInput("Cannot take it back", f"entry {entry}", "an entry that stands", "Look at what stands now.")
    row = add_entry(call.actor, visit, UNDONE, {"entry": str(entry)}, None, after=call.body["after"])
    return tell_entry(row, frozenset())


ALL = "/objects/{object}/visits/{visit}/entries"
OPERATIONS: tuple[Operation, ...] = (
    looks("list-entries", ALL, "Entries of a visit, in order.", _list, rows_of(ENTRY), query=PAGING),
    makes("add-reading", ALL, RECORD, "Records a reading, or a deed that changed the object.", _read, ENTRY, NEW),
    makes("add-readings", f"{ALL}/several", RECORD, "Records several readings or deeds, all of them or none.",
          _read_several, SEVERAL, NEW_SEVERAL),
    makes("skip-test", f"{ALL}/skip", RECORD, "Leaves a test out for the rest of the visit.", _skip, ENTRY, NEW_SKIP),
    makes("undo-entry", f"{ALL}/undo", RECORD, "Takes an entry back by a new one.", _undo, ENTRY, NEW_UNDO),
)  # fmt: skip
