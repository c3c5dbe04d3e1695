"""Proposals: propose, change by a new version, answer, withdraw."""

from __future__ import annotations

from typing import Any

from kilter.services.approvals import ACTS, CONSENT, REFUSAL, capacities
from kilter.services.permissions import ROLES
from kilter.store.models import Proposal, ProposalEnd, ProposalVersion
from kilter.store.verbs.proposals import (
    ANSWER,
    FIELDS,
    PROPOSE,
    answer,
    change_proposal,
    propose,
    standing_of,
    withdraw_proposal,
)
from kilter.web.api.fields import BY, NUMBER, TOLD, VISIT, by, number_of
from kilter.web.api.found import object_in, object_of, proposal_of, version_in, visit_in
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import Many, Maybe, Text, Truth, Whole, Words, filled
from kilter.web.api.statements import REASON

MOST = 10_000
GRADE = Field(Whole(0, 6), "intervention grade: 0 look to 6 irreversible")
CAPACITY, DECISION = Words(capacities(ROLES)), Words((CONSENT, REFUSAL))
ANSWERED = Record("Answer", {"capacity": CAPACITY, "decision": DECISION, "words": TOLD, **BY})
STANDING = Record("Standing", {
    "allowed": Field(Truth(), "it may be carried out now"), "missing": Many(TOLD), "refused_by": Many(TOLD),
    "words": TOLD,
})  # fmt: skip
VERSION = Record("ProposalVersion", {
    "version": NUMBER, "act": Words(ACTS), "grade": GRADE, "part": TOLD, "words": TOLD, "reason": TOLD,
    "alternatives": TOLD, "undo": TOLD, "receiver": Field(Maybe(Whole(1)), "id of the object that would get the part"),
    "answers": Many(ANSWERED), **BY,
})  # fmt: skip
END = Record("ProposalEnd", {"kind": Words(ProposalEnd.KINDS), "why": TOLD, **BY})
PROPOSAL = Record("Proposal", {
    "number": NUMBER, "visit": Maybe(NUMBER), "versions": Field(Many(VERSION), "the latest first"),
    "standing": Field(STANDING, "how the latest version stands"), "ended": Maybe(END), **BY,
})  # fmt: skip
WORDS = {
    "act": Field(Words(ACTS)), "grade": GRADE, "part": may(Text(120), "which part"),
    "words": Field(filled(MOST), "what would be done"), "reason": Field(filled(MOST), "why"),
    "alternatives": may(Text(MOST), "what else was weighed, doing nothing among it; needed from grade 5 on"),
    "undo": may(Text(MOST), "how it can be undone, or that it cannot; needed from grade 5 on"),
    "receiver": may(Maybe(Whole(1)), "with 'take parts' alone: id of the object that would get the part"),
}  # fmt: skip
NEW, CHANGED = Record("NewProposal", {**WORDS, "visit": VISIT}), Record("NewProposalVersion", WORDS)
NEW_ANSWER = Record("NewAnswer", {
    "version": Field(NUMBER, "the version that was read; it has to be the latest"),
    "capacity": Field(CAPACITY, "for whom the person speaks"), "decision": DECISION,
    "words": may(Text(4000), "conditions, reasons"),
})  # fmt: skip


def tell_proposal(one: Proposal) -> dict[str, Any]:
    """A proposal with every version and its answers."""
    versions = list(one.versions.select_related("who", "proposal__object").order_by("-version"))
    stands, ended = standing_of(versions[0]), one.ends.select_related("who").order_by("-pk").first()
    return {
        "number": one.number, "visit": number_of(one.visit), "versions": [_tell_version(each) for each in versions],
        "standing": {"allowed": stands.allowed, "missing": list(stands.missing), "refused_by": list(stands.refused_by),
                     "words": stands.words},
        "ended": {"kind": ended.kind, "why": ended.why, **by(ended)} if ended else None, **by(one),
    }  # fmt: skip


def _tell_version(one: ProposalVersion) -> dict[str, Any]:
    names = ("version", "act", "grade", "part", "words", "reason", "alternatives", "undo")
    rows = one.approvals.select_related("who").order_by("pk")
    answers = [{**{name: getattr(row, name) for name in ("capacity", "decision", "words")}, **by(row)} for row in rows]
    return {**{name: getattr(one, name) for name in names}, "receiver": one.receiver_id, "answers": answers, **by(one)}


def _fields(call: Call) -> dict[str, Any]:
    told_of = {name: one for name, one in call.body.items() if name in FIELDS}
    return {**told_of, "receiver": object_in(told_of.get("receiver"))}


def _list(call: Call) -> Any:
    rows = object_of(call).proposals.select_related("who", "visit", "object").order_by("-number")
    return told(call, rows, tell_proposal)


def _propose(call: Call) -> Any:
    about = object_of(call)
    return tell_proposal(propose(call.actor, about, _fields(call), visit_in(call, about)))


def _change(call: Call) -> Any:
    proposal = proposal_of(call)
    change_proposal(call.actor, proposal, _fields(call))
    return tell_proposal(proposal)


def _answer(call: Call) -> Any:
    proposal, body = proposal_of(call), call.body
    version = version_in({"proposal": proposal.number, "version": body["version"]}, proposal.object)
    assert version is not None
    answer(call.actor, version, body["capacity"], body["decision"], body.get("words", ""))
    return tell_proposal(proposal)


def _withdraw(call: Call) -> Any:
    proposal = proposal_of(call)
    withdraw_proposal(call.actor, proposal, call.body["why"])
    return tell_proposal(proposal)


ALL, ONE = "/objects/{object}/proposals", "/objects/{object}/proposals/{proposal}"
OPERATIONS: tuple[Operation, ...] = (
    looks("list-proposals", ALL, "Proposals for an object, the latest first.", _list, rows_of(PROPOSAL), query=PAGING),
    makes("propose-work", ALL, PROPOSE, "Proposes work on an object, or taking a part from it.", _propose, PROPOSAL,
          NEW),
    looks("get-proposal", ONE, "One proposal.", lambda call: tell_proposal(proposal_of(call)), PROPOSAL),
    makes("change-proposal", f"{ONE}/versions", PROPOSE, "Changes a proposal by a new version; answers to earlier ones "
          "lapse.", _change, PROPOSAL, CHANGED),
    makes("answer-proposal", f"{ONE}/answers", ANSWER, "Agrees to, or refuses, the latest version.", _answer, PROPOSAL,
          NEW_ANSWER),
    makes("withdraw-proposal", f"{ONE}/withdraw", PROPOSE, "Ends a proposal that is no longer wanted.", _withdraw,
          PROPOSAL, REASON),
)  # fmt: skip
