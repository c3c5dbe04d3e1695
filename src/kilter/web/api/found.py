"""What an address or a body names, held to the object it stands under; what belongs to another object is not there."""

from __future__ import annotations

from typing import Any

from kilter.measure.errors import BadInput
from kilter.store.models import (
    BoardEdition,
    CollectionObject,
    Filing,
    KnownBoard,
    Person,
    Proposal,
    ProposalVersion,
    RemovedPart,
    Statement,
    Visit,
    VisitEntry,
)
from kilter.web.api.operation import Call
from kilter.web.api.refusals import not_there

DOING = "Cannot find it"


def object_of(call: Call) -> CollectionObject:
    """The object of the address."""
    found = CollectionObject.objects.select_related("board").filter(pk=call.path["object"]).first()
    return _there(found, f"no object {call.path['object']}", "objects of the record")


def statement_of(call: Call) -> Statement:
    """The statement of the address."""
    rows = Statement.objects.select_related("object", "who", "visit").filter(object_id=call.path["object"])
    return _there(rows.filter(pk=call.path["statement"]).first(), f"no statement {call.path['statement']} about it",
                  "statements about this object")  # fmt: skip


def visit_of(call: Call) -> Visit:
    """The visit of the address."""
    rows = Visit.objects.select_related("object__board", "board_edition__board", "who")
    found = rows.filter(object_id=call.path["object"], number=call.path["visit"]).first()
    return _there(found, f"no visit {call.path['visit']} to it", "visits to this object")


def proposal_of(call: Call) -> Proposal:
    """The proposal of the address."""
    rows = Proposal.objects.select_related("object", "visit", "who")
    found = rows.filter(object_id=call.path["object"], number=call.path["proposal"]).first()
    return _there(found, f"no proposal {call.path['proposal']} for it", "proposals for this object")


def part_of(call: Call) -> RemovedPart:
    """The removed part of the address."""
    rows = RemovedPart.objects.select_related("object", "who", "repair__proposal_version__proposal")
    found = rows.filter(object_id=call.path["object"], pk=call.path["part"]).first()
    return _there(found, f"no part {call.path['part']} of it", "parts that came out of this object")


def filing_of(call: Call) -> Filing:
    """The file of the address."""
    rows = Filing.objects.select_related("attachment", "object", "visit", "entry", "proposal", "who")
    found = rows.filter(object_id=call.path["object"], pk=call.path["file"]).first()
    return _there(found, f"no file {call.path['file']} of it", "files of this object")


def board_at(call: Call) -> KnownBoard:
    """The board of the address."""
    found = KnownBoard.objects.filter(key=call.path["board"]).first()
    return _there(found, f"no board '{call.path['board']}'", "boards of the record")


def edition_at(call: Call) -> BoardEdition:
    """The edition of the address."""
    rows = BoardEdition.objects.select_related("board", "who").filter(board__key=call.path["board"])
    found = rows.filter(edition=call.path["edition"]).first()
    return _there(found, f"no edition {call.path['edition']} of '{call.path['board']}'", "its editions")


def person_named(call: Call) -> Person:
    """The person of the address."""
    found = Person.objects.select_related("personal").filter(key=call.path["person"]).first()
    return _there(found, f"no person '{call.path['person']}'", "people of the record")


def visit_in(call: Call, about: CollectionObject) -> Visit | None:
    """The visit that a body or query names by its number; None where it names none."""
    number = {**call.query, **call.body}.get("visit")
    if number is None:
        return None
    return _named(Visit.objects.select_related("object").filter(object=about, number=number).first(),
                  f"no visit {number} to {about.number}", "the number of a visit to it")  # fmt: skip


def entry_in(number: int | None, visit: Visit | None, doing: str) -> VisitEntry | None:
    """The entry that a body or query names by its number, of the visit that it names; None where it names none."""
    if number is None:
        return None
    found = VisitEntry.objects.filter(visit=visit, number=number).first() if visit is not None else None
    if found is None:
        raise BadInput(doing, f"no entry {number} of a visit", "an entry of the visit that is named", "Name both.")
    return found


def board_in(key: str | None) -> KnownBoard | None:
    """The board that a body names by its key; None where it names none."""
    if not key:
        return None
    return _named(KnownBoard.objects.filter(key=key).first(), f"no board '{key}'", "the key of a board that is known")


def edition_in(number: int | None, board: KnownBoard | None) -> BoardEdition | None:
    """The edition of an object's board that a body names; None where it names none."""
    if number is None:
        return None
    found = board.editions.filter(edition=number).first() if board is not None else None
    return _named(found, f"no edition {number} of {board.key if board else 'a board, as it has none'}",
                  "an edition of the object's board")  # fmt: skip


def object_in(pk: int | None) -> CollectionObject | None:
    """The other object that a body names by its id; None where it names none."""
    if pk is None:
        return None
    return _named(CollectionObject.objects.filter(pk=pk).first(), f"no object {pk}", "the id of an object")


def piece_in(pk: int | None) -> RemovedPart | None:
    """The removed part that a body names by its id; None where it names none."""
    if pk is None:
        return None
    rows = RemovedPart.objects.select_related("object", "repair__proposal_version__proposal")
    return _named(rows.filter(pk=pk).first(), f"no part {pk}", "the id of a part that came out of an object")


def version_in(agreed: dict[str, Any] | None, about: CollectionObject) -> ProposalVersion | None:
    """The version of a proposal that work rests on, as a body names it; None where it names none."""
    if agreed is None:
        return None
    rows = ProposalVersion.objects.select_related("proposal__object", "who", "receiver").filter(
        proposal__object_id=agreed.get("object", about.pk), proposal__number=agreed["proposal"]
    )
    return _named(rows.filter(version=agreed["version"]).first(), f"no version {agreed['version']} of proposal "
                  f"{agreed['proposal']}", "a version of a proposal for the object that is named")  # fmt: skip


def _there(found: Any, words: str, allowed: str) -> Any:
    if found is None:
        raise not_there(DOING, words, allowed)
    return found


def _named(found: Any, words: str, allowed: str) -> Any:
    if found is None:
        raise BadInput("Cannot take the request", words, allowed, "Look it up first.")
    return found
