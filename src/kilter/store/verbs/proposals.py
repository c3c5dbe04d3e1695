"""Propose work, change a proposal by a new version, answer it, end it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kilter.measure.errors import BadInput, NotAllowed
from kilter.services.approvals import (
    ACTS,
    CONSENT,
    GRADES,
    MAKE_SAFE,
    REFUSAL,
    TAKE_PARTS,
    Answer,
    Standing,
    capacities,
    standing,
    wanted,
)
from kilter.store.journal import now, write
from kilter.store.models import (
    Approval,
    CollectionObject,
    Person,
    Proposal,
    ProposalEnd,
    ProposalVersion,
    Visit,
)
from kilter.store.verb import one_of, roles_now, said, verb

PROPOSE, ANSWER = "propose work", "answer a proposal"
FIELDS = ("act", "grade", "part", "words", "reason", "alternatives", "undo", "receiver")
DOING = "Cannot propose that"


@verb(PROPOSE)
def propose(actor: Person, about: CollectionObject, fields: Mapping[str, Any], visit: Visit | None = None) -> Proposal:
    """
    Proposes work on an object, or taking a part from it.

    Args:
        actor: Who proposes.
        about: The object that is worked on or loses the part.
        fields: By name as in FIELDS; see `ProposalVersion`.
        visit: During which it came up.

    Raises:
        BadInput: A field does not do.
    """
    if visit is not None and visit.object_id != about.pk:
        raise BadInput(DOING, "a visit to another object", f"a visit to {about.number}", "Choose the visit again.")
    number = Proposal.objects.filter(object=about).count() + 1
    row = Proposal.objects.create(object=about, visit=visit, number=number, at=now(), who=actor)
    version = _version(actor, row, 1, fields)
    write(actor.key, PROPOSE, f"object {about.number}", rows=[row, version], why=version.reason)
    return row


@verb(PROPOSE)
def change_proposal(actor: Person, proposal: Proposal, fields: Mapping[str, Any]) -> ProposalVersion:
    """
    A new version; every answer to the earlier ones lapses.

    Raises:
        BadInput: It was ended, or a field does not do.
    """
    _check_open(proposal)
    row = _version(actor, proposal, proposal.latest().version + 1, fields)
    write(actor.key, PROPOSE, f"object {proposal.object.number}", rows=[row], why=row.reason)
    return row


@verb(ANSWER)
def answer(
    actor: Person, version: ProposalVersion, capacity: str, decision: str, words: str = ""
) -> Approval:
    """
    Agrees to, or refuses, one version of a proposal.

    Args:
        actor: An approver or registrar.
        version: The version that was read; it has to be the latest.
        capacity: For whom the person speaks.
        decision: 'consent' or 'refusal'.
        words: Conditions, reasons, where the minutes are.

    Raises:
        BadInput: There is a later version, or the proposal was ended.
        NotAllowed: The person cannot speak for that, or consents to a proposal of one's own that others have to decide.
    """
    doing = f"Cannot answer {version.proposal}"
    _check_open(version.proposal)
    latest = version.proposal.latest()
    if latest.pk != version.pk:
        raise BadInput(doing, f"version {latest.version}, while you read version {version.version}",
                       "an answer to the latest version", "Read it again.")  # fmt: skip
    may = capacities(roles_now(actor))
    if capacity not in may:
        raise NotAllowed(doing, f"an answer as {capacity or 'nobody'}", f"answers as {', '.join(may) or 'nobody'}",
                         "Choose for whom you speak.")  # fmt: skip
    one_of(decision, "decision", (CONSENT, REFUSAL), doing)
    proposers = set(version.proposal.versions.values_list("who_id", flat=True))
    if decision == CONSENT and actor.pk in proposers and not _wanted(version).proposer:
        raise NotAllowed(doing, "your own proposal", "the consent of other people", "Ask somebody else to read it.")
    row = Approval.objects.create(
        version=version, capacity=capacity, decision=decision, words=said(words, "words", 4000, doing), at=now(),
        who=actor,
    )  # fmt: skip
    write(actor.key, ANSWER, f"object {version.proposal.object.number}", rows=[row], why=row.words)
    return row


@verb(PROPOSE)
def withdraw_proposal(actor: Person, proposal: Proposal, why: str) -> ProposalEnd:
    """
    Ends a proposal that is no longer wanted.

    Raises:
        BadInput: No reason, or it was ended already.
    """
    _check_open(proposal)
    return end(actor, proposal, "withdrawn", said(why, "reason", 2000, "Cannot withdraw it", empty=False))


def end(actor: Person, proposal: Proposal, kind: str, why: str) -> ProposalEnd:
    """The row that ends a proposal; within a verb."""
    row = ProposalEnd.objects.create(proposal=proposal, kind=kind, why=why, at=now(), who=actor)
    write(actor.key, PROPOSE, f"object {proposal.object.number}", rows=[row], why=why)
    return row


def standing_of(version: ProposalVersion) -> Standing:
    """Whether a version may be carried out now."""
    rows = version.approvals.select_related("who").order_by("pk")
    answers = [Answer(version.version, one.who.key, one.capacity, one.decision) for one in rows]
    return standing(_wanted(version), version.version, version.who.key, answers)


def _wanted(version: ProposalVersion) -> Any:
    return wanted(version.act, version.grade, version.proposal.object.accession)


def _version(actor: Person, proposal: Proposal, number: int, fields: Mapping[str, Any]) -> ProposalVersion:
    odd = next((name for name in fields if name not in FIELDS), None)
    if odd is not None:
        raise BadInput(DOING, f"a field '{odd}'", ", ".join(FIELDS), "Leave it out.")
    act, grade = one_of(str(fields.get("act", "")), "act", ACTS, DOING), fields.get("grade")
    if not isinstance(grade, int) or grade not in GRADES:
        raise BadInput(DOING, f"the grade {grade!r}", "0, look, to 6, irreversible", "Choose the grade.")
    receiver = fields.get("receiver")
    if (receiver is not None) != (act == TAKE_PARTS) or (receiver and receiver.pk == proposal.object_id):
        allowed = f"another object as receiver with '{TAKE_PARTS}', and none with the rest"
        raise BadInput(DOING, "a receiver" if receiver else "no receiver", allowed, "Choose again.")
    told = {name: said(fields.get(name), name, 10_000, DOING) for name in ("words", "reason", "alternatives", "undo")}
    for name in ("words", "reason"):
        said(told[name], name, 10_000, DOING, empty=False)
    if act != MAKE_SAFE and grade >= 5 and not (told["undo"] and told["alternatives"]):
        raise BadInput(DOING, "nothing under 'alternatives' or 'undo'",
                       "both, from grade 5 on", "Write what else was weighed, and how it can be undone.")  # fmt: skip
    return ProposalVersion.objects.create(
        proposal=proposal, version=number, act=act, grade=grade, part=said(fields.get("part"), "part", 120, DOING),
        receiver=receiver, at=now(), who=actor, **told,
    )  # fmt: skip


def _check_open(proposal: Proposal) -> None:
    last = proposal.ends.order_by("-pk").first()
    if last is not None:
        raise BadInput(f"Cannot go on with {proposal}", f"a proposal that was {last.kind}", "one that is open",
                       "Propose it anew.")  # fmt: skip
