"""Record what was done to an object, and where the parts went."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kilter.measure.errors import BadInput, NotAllowed
from kilter.services.approvals import GRADES, MAKE_SAFE, TAKE_PARTS, WORK, wanted
from kilter.store.journal import now, write
from kilter.store.models import (
    CollectionObject,
    PartMove,
    Person,
    ProposalVersion,
    RemovedPart,
    Repair,
    Visit,
    VisitEntry,
)
from kilter.store.verb import one_of, said, verb
from kilter.store.verbs.proposals import end, standing_of

REPAIR, SAFE, MOVE = "record a repair", "make something safe", "move a removed part"
DOING = "Cannot record the repair"
STAYS = ("kept with the object", "refitted", "kept as a sample")


@verb(REPAIR)
def record_repair(
    actor: Person,
    about: CollectionObject,
    act: str,
    grade: int,
    words: str,
    *,
    part: str = "",
    fitted: str = "",
    fitted_piece: RemovedPart | None = None,
    visit: Visit | None = None,
    entry: VisitEntry | None = None,
    version: ProposalVersion | None = None,
    removed: Mapping[str, Any] | None = None,
) -> Repair:
    """
    Records work that was done; from the grade on that needs approval it needs an agreed proposal.

    Args:
        actor: A repairer.
        about: The object.
        act: One of `Repair.ACTS`.
        grade: Intervention grade of what was done.
        words: What, with materials.
        part: Which part.
        fitted: What was fitted and where it came from.
        fitted_piece: The removed part that was fitted.
        visit, entry: During which, and the bench entry that tells the diagnosis.
        version: The proposal's version it was agreed under; it is ended by this.
        removed: The part that came out: 'number', 'words', 'original' (True, False or None), 'place'.

    Raises:
        BadInput: A field does not do.
        NotAllowed: The grade needs approvals that are not there.
    """
    if act == "made safe":
        raise BadInput(DOING, f"the act '{act}'", "the other acts", "Record it as making something safe.")
    _check_agreed(about, grade, version)
    row = _repair(actor, about, act, grade, words, part, fitted, fitted_piece, visit, entry, version, safe=False)
    rows: list[Any] = [row, *_taken_out(actor, about, row, removed)]
    if fitted_piece is not None:
        where = "refitted" if fitted_piece.object_id == about.pk else "fitted elsewhere"
        check_may_leave(fitted_piece, where, DOING, version, about)
        rows.append(_move(actor, fitted_piece, where, f"{about.number} {part}", ""))
    write(actor.key, REPAIR, f"object {about.number}", rows=rows)
    if version is not None:
        end(actor, version.proposal, "carried out", row.words)
    return row


@verb(SAFE)
def make_safe(
    actor: Person,
    about: CollectionObject,
    grade: int,
    words: str,
    *,
    part: str = "",
    visit: Visit | None = None,
    version: ProposalVersion | None = None,
    removed: Mapping[str, Any] | None = None,
) -> Repair:
    """
    Records what was done to make an object safer for people or for itself; no approval is ever waited for.

    Args:
        actor: Anybody who works with objects, and the administrator.
        about: The object.
        grade: Intervention grade of what was done.
        words: What, with materials.
        part: Which part.
        visit: During which.
        version: Of a proposal to make it safe, which is ended by this; it need not be agreed.
        removed: The part that came out, as for `record_repair`.

    Raises:
        BadInput: A field does not do.
    """
    if version is not None and (version.act != MAKE_SAFE or version.proposal.object_id != about.pk):
        raise BadInput(DOING, "a proposal of another kind, or for another object",
                       f"one to make {about.number} safe, or none", "Record it without the proposal.")  # fmt: skip
    row = _repair(actor, about, "made safe", grade, words, part, "", None, visit, None, version, safe=True)
    write(actor.key, SAFE, f"object {about.number}", rows=[row, *_taken_out(actor, about, row, removed)])
    if version is not None and not version.proposal.ends.exists():
        end(actor, version.proposal, "carried out", row.words)
    return row


@verb(MOVE)
def move_part(
    actor: Person,
    piece: RemovedPart,
    disposition: str,
    place: str = "",
    why: str = "",
    *,
    version: ProposalVersion | None = None,
) -> PartMove:
    """
    Tells where a removed part went.

    Args:
        actor: A repairer or registrar.
        piece: The part.
        disposition: One of `PartMove.DISPOSITIONS`.
        place: Where it lies.
        why: The reason; for destroying it there has to be one.
        version: The agreed proposal, for a part that may leave its object only with consent.

    Raises:
        BadInput: It is fitted somewhere or destroyed, or would be destroyed without a reason.
        NotAllowed: Others have to agree first.
    """
    doing = f"Cannot move {piece.number}"
    last = piece.last_move().disposition
    if last in ("refitted", "fitted elsewhere", "destroyed"):
        raise BadInput(doing, f"a part that is {last}", "a part that lies somewhere", "Record a repair instead.")
    if disposition == "destroyed" and not (why or "").strip():
        raise BadInput(doing, "no reason", "a reason for destroying it", "Write it down.")
    check_may_leave(piece, disposition, doing, version)
    row = _move(actor, piece, one_of(disposition, "disposition", PartMove.DISPOSITIONS, doing), place, why)
    write(actor.key, MOVE, f"part {piece.number}", rows=[row], why=row.why)
    return row


def check_may_leave(
    piece: RemovedPart,
    disposition: str,
    doing: str,
    version: ProposalVersion | None,
    receiver: CollectionObject | None = None,
) -> None:
    """
    Lets a removed part leave its object where that object's accession state, or those who were asked, allow it.

    It stays with its object, or goes back into it, at any time. What came out in making safe may be destroyed.

    Args:
        piece: The part.
        disposition: Where it would go.
        doing: What is being done, for the message.
        version: An agreed proposal to take it, or, for destroying it, for irreversible work on the object it came from;
            unless given, the one under which it came out.
        receiver: The object it would be fitted into.

    Raises:
        NotAllowed: Others have to agree first.
    """
    if disposition in STAYS or (disposition == "destroyed" and piece.repair.making_safe):
        return
    need = wanted(TAKE_PARTS, 0, piece.object.accession)
    if not need.approvals and not need.never:
        return
    found = version or piece.repair.proposal_version
    if found is not None and found.proposal.object_id == piece.object_id and standing_of(found).allowed:
        if disposition == "destroyed" and found.act == WORK and found.grade == max(GRADES):
            return
        if disposition == "fitted elsewhere" and found.act == TAKE_PARTS and receiver in (None, found.receiver):
            return
    asked = "irreversible work on it" if disposition == "destroyed" else "taking the part for the object that gets it"
    raise NotAllowed(doing, f"a part of {piece.object.number} that would be {disposition}",
                     f"an agreed proposal for {asked}", "Propose it, or keep the part with its object.")  # fmt: skip


def _check_agreed(about: CollectionObject, grade: int, version: ProposalVersion | None) -> None:
    need = wanted(WORK, grade, about.accession) if grade in GRADES else None
    if version is None:
        if need is not None and need.approvals:
            raise NotAllowed(DOING, f"work of grade {grade} without an agreed proposal",
                             f"the consent of {' and '.join(need.approvals)}", "Propose it first.")  # fmt: skip
        return
    if version.act == MAKE_SAFE:
        raise BadInput(DOING, "a proposal to make something safe", "one for work, or for taking parts",
                       "Record it as making something safe.")  # fmt: skip
    receiver = version.receiver_id if version.act == TAKE_PARTS else version.proposal.object_id
    if about.pk not in (receiver, version.proposal.object_id):
        raise BadInput(DOING, "a proposal for another object", f"one for {about.number}", "Choose it again.")
    if version.pk != version.proposal.latest().pk or version.proposal.ends.exists():
        raise BadInput(DOING, "a proposal that was changed or ended", "the latest version of an open one",
                       "Look at the proposal.")  # fmt: skip
    if grade > version.grade:
        raise NotAllowed(DOING, f"work of grade {grade}", f"grade {version.grade}, as it was agreed",
                         "Propose what was done, or record the grade that was done.")  # fmt: skip
    stands = standing_of(version)
    if not stands.allowed:
        raise NotAllowed(DOING, f"a proposal that {stands.words}", "one that is agreed", "Wait for the answers.")


def _repair(
    actor: Person, about: CollectionObject, act: str, grade: int, words: str, part: str, fitted: str,
    piece: RemovedPart | None, visit: Visit | None, entry: VisitEntry | None, version: ProposalVersion | None, *,
    safe: bool,
) -> Repair:  # fmt: skip
    if grade not in GRADES:
        raise BadInput(DOING, f"the grade {grade!r}", "0, look, to 6, irreversible", "Choose the grade.")
    visit = visit or (entry.visit if entry else None)
    if visit is not None and visit.object_id != about.pk:
        raise BadInput(DOING, "a visit to another object", f"a visit to {about.number}", "Choose the visit again.")
    if piece is not None and piece.last_move().disposition in ("refitted", "fitted elsewhere", "destroyed"):
        raise BadInput(DOING, f"the part {piece.number}, which is {piece.last_move().disposition}",
                       "a part that lies somewhere", "Choose another one.")  # fmt: skip
    return Repair.objects.create(
        object=about, visit=visit, entry=entry, proposal_version=version, act=one_of(act, "act", Repair.ACTS, DOING),
        part=said(part, "part", 120, DOING), grade=grade,
        words=said(words, "what was done", 10_000, DOING, empty=False),
        fitted=said(fitted, "fitted", 4000, DOING), fitted_piece=piece, making_safe=safe, at=now(), who=actor,
    )  # fmt: skip


def _taken_out(
    actor: Person, about: CollectionObject, repair: Repair, removed: Mapping[str, Any] | None
) -> list[RemovedPart | PartMove]:
    if not removed:
        return []
    number = said(removed.get("number"), "number of the removed part", 80, DOING) or _next_number(about)
    if RemovedPart.objects.filter(number=number).exists():
        raise BadInput(DOING, f"the part number {number} twice", "a number of its own", "Choose another one.")
    piece = RemovedPart.objects.create(
        number=number, object=about, repair=repair, part=repair.part,
        words=said(removed.get("words"), "marking", 4000, DOING), original=removed.get("original"), at=now(), who=actor,
    )  # fmt: skip
    return [piece, _move(actor, piece, "kept with the object", str(removed.get("place") or ""), "")]


def _next_number(about: CollectionObject) -> str:
    count = RemovedPart.objects.filter(object=about).count()
    while RemovedPart.objects.filter(number=f"{about.number}/P{count + 1}").exists():
        count += 1
    return f"{about.number}/P{count + 1}"


def _move(actor: Person, piece: RemovedPart, disposition: str, place: str, why: str) -> PartMove:
    return PartMove.objects.create(
        piece=piece, disposition=disposition, place=said(place, "place", 200, DOING),
        why=said(why, "reason", 2000, DOING), at=now(), who=actor,
    )  # fmt: skip
