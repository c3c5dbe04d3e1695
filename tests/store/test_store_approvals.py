"""
Who has to agree before work is recorded.

The rules are the project's own careful default (`data/records/approvals.toml`); that nobody decides alone about what
cannot be undone is common practice of conservation, no source.
"""

from __future__ import annotations

import pytest
from record_scene import Scene

from kilter.measure.errors import BadInput, NotAllowed
from kilter.services.approvals import MAKE_SAFE, TAKE_PARTS
from kilter.store.models import Proposal, ProposalVersion, Repair
from kilter.store.verbs.people import set_roles
from kilter.store.verbs.proposals import answer, change_proposal, propose, standing_of, withdraw_proposal
from kilter.store.verbs.repairs import make_safe, move_part, record_repair

CHANGED = {"act": "work", "grade": 5, "words": "put in two", "reason": "it drifted", "alternatives": "leave it",
           "undo": "the old one is kept"}  # fmt: skip


def repair(scene: Scene, version: ProposalVersion | None, grade: int) -> Repair:
    about = version.proposal.object if version else scene.an_object()
    return record_repair(scene.who("repairer"), about, "replaced", grade, "done", part="R41", version=version)


@pytest.mark.parametrize("grade", range(7))
def test_without_a_proposal(record: Scene, grade: int) -> None:
    if grade <= 4:
        assert repair(record, None, grade).grade == grade
    else:
        with pytest.raises(NotAllowed, match=f"work of grade {grade} without an agreed proposal"):
            repair(record, None, grade)
        assert not Repair.objects.exists()


def test_grade_5_waits_for_the_keeper(record: Scene) -> None:
    proposal = record.a_proposal(record.an_object(), grade=5)
    with pytest.raises(NotAllowed, match="waits for keeper"):
        repair(record, proposal.latest(), 5)
    record.agree(proposal, conservator="approver")
    with pytest.raises(NotAllowed, match="waits for keeper"):
        repair(record, proposal.latest(), 5)
    record.agree(proposal, keeper="approver")
    repair(record, proposal.latest(), 5)
    with pytest.raises(BadInput, match="changed or ended"):
        repair(record, proposal.latest(), 5)


def test_grade_6_needs_two_who_did_not_propose_it(record: Scene) -> None:
    proposal = record.a_proposal(record.an_object(), grade=6)
    record.agree(proposal, keeper="approver", conservator="approver")
    assert standing_of(proposal.latest()).words == "waits for another person"
    record.agree(proposal, conservator="approver 2")
    assert standing_of(proposal.latest()).allowed
    repair(record, proposal.latest(), 6)


def test_who_proposed_grade_6_cannot_agree(record: Scene) -> None:
    both = record.who("approver")
    set_roles(record.who("administrator"), both, ["approver", "repairer"])
    one = record.an_object()
    proposal = propose(both, one, {**CHANGED, "grade": 6})
    with pytest.raises(NotAllowed, match="your own proposal"):
        answer(both, proposal.latest(), "keeper", "consent")
    answer(both, proposal.latest(), "keeper", "refusal")  # one may think better of it
    other = record.who("recorder")
    changed = change_proposal(other, proposal, {**CHANGED, "grade": 6})
    again = change_proposal(record.who("registrar"), proposal, {**CHANGED, "grade": 6, "words": "three"})
    with pytest.raises(BadInput, match="version 3, while you read version 2"):
        answer(record.who("approver 2"), changed, "keeper", "consent")
    with pytest.raises(NotAllowed, match="your own proposal"):
        answer(both, again, "keeper", "consent")  # who wrote any version is no stranger to it


def test_the_proposer_may_agree_to_grade_5(record: Scene) -> None:
    both = record.who("approver")
    set_roles(record.who("administrator"), both, ["approver", "repairer"])
    proposal = propose(both, record.an_object(), CHANGED)
    answer(both, proposal.latest(), "keeper", "consent")
    assert standing_of(proposal.latest()).allowed


def test_an_answer_is_for_one_version(record: Scene) -> None:
    proposal = record.a_proposal(record.an_object(), grade=5)
    first = proposal.latest()
    record.agree(proposal, keeper="approver")
    second = change_proposal(record.who("repairer"), proposal, CHANGED)
    assert standing_of(first).allowed
    assert standing_of(second).words == "waits for keeper"
    for version in (first, second):
        with pytest.raises((NotAllowed, BadInput)):
            repair(record, version, 5)


def test_the_last_answer_of_a_person_counts(record: Scene) -> None:
    proposal = record.a_proposal(record.an_object(), grade=5)
    record.agree(proposal, keeper="approver")
    answer(record.who("approver"), proposal.latest(), "keeper", "refusal", "not before the exhibition")
    assert standing_of(proposal.latest()).refused_by == ("keeper",)
    answer(record.who("approver"), proposal.latest(), "keeper", "consent")
    assert standing_of(proposal.latest()).allowed


def test_one_answers_only_for_whom_one_may_speak(record: Scene) -> None:
    proposal = record.a_proposal(record.an_object(), grade=5)
    with pytest.raises(NotAllowed, match="answers as registrar, governing body"):
        answer(record.who("registrar"), proposal.latest(), "keeper", "consent")


def test_no_more_than_was_agreed(record: Scene) -> None:
    proposal = record.a_proposal(record.an_object(), grade=5)
    record.agree(proposal, keeper="approver")
    with pytest.raises(NotAllowed, match="work of grade 6"):
        repair(record, proposal.latest(), 6)
    with pytest.raises(BadInput, match="another object"):
        record_repair(record.who("repairer"), record.an_object("HC 0418"), "replaced", 5, "x",
                      version=proposal.latest())  # fmt: skip


def test_a_withdrawn_proposal_is_over(record: Scene) -> None:
    proposal = record.a_proposal(record.an_object())
    withdraw_proposal(record.who("recorder"), proposal, "it works")
    for deed in (
        lambda: answer(record.who("approver"), proposal.latest(), "keeper", "consent"),
        lambda: change_proposal(record.who("repairer"), proposal, CHANGED),
        lambda: withdraw_proposal(record.who("recorder"), proposal, "again"),
    ):
        with pytest.raises(BadInput, match="withdrawn"):
            deed()


@pytest.mark.parametrize("left_out", ["alternatives", "undo", "words", "reason"])
def test_grade_5_says_what_else_was_weighed(record: Scene, left_out: str) -> None:
    with pytest.raises(BadInput, match=left_out):
        propose(record.who("repairer"), record.an_object(), {**CHANGED, left_out: ""})
    assert not Proposal.objects.exists()


def taking(scene: Scene, accession: str, grade: int = 4) -> Proposal:
    donor = scene.an_object("HC 0200", accession=accession)
    return scene.a_proposal(donor, TAKE_PARTS, grade, receiver=scene.an_object("HC 0417"))


def test_taking_parts_of_the_permanent_collection(record: Scene) -> None:
    proposal = taking(record, "accessioned")
    version, donor, receiver = proposal.latest(), proposal.object, proposal.latest().receiver
    record.agree(proposal, keeper="approver", registrar="registrar")
    assert standing_of(version).words == "waits for governing body"
    record.agree(proposal, governing_body="registrar")
    repairer = record.who("repairer")
    out = record_repair(repairer, donor, "removed", 4, "out", part="U7", version=version,
                        removed={"original": True})  # fmt: skip
    piece = out.removed_parts.get()
    with pytest.raises(NotAllowed, match="an agreed proposal for taking the part"):
        record_repair(repairer, record.an_object("HC 0500"), "replaced", 4, "in", fitted_piece=piece)
    record_repair(repairer, receiver, "replaced", 4, "in", part="U7", fitted_piece=piece)
    assert piece.last_move().disposition == "fitted elsewhere"
    with pytest.raises(BadInput, match="which is fitted elsewhere"):
        record_repair(repairer, receiver, "replaced", 4, "in again", fitted_piece=piece)


def test_one_person_cannot_decide_about_a_donor(record: Scene) -> None:
    proposal, one = taking(record, "handling"), record.who("approver")
    record.agree(proposal, keeper="approver")
    assert standing_of(proposal.latest()).words == "waits for another person"
    answer(record.who("registrar"), proposal.latest(), "registrar", "consent")
    assert standing_of(proposal.latest()).allowed
    set_roles(record.who("administrator"), one, ["approver", "repairer"])
    mine = propose(one, proposal.object, {**CHANGED, "act": TAKE_PARTS, "receiver": record.an_object("HC 0300")})
    with pytest.raises(NotAllowed, match="your own proposal"):
        answer(one, mine.latest(), "keeper", "consent")


@pytest.mark.parametrize("accession", ["loan", "pending", ""])
def test_nothing_is_taken_from_what_is_not_ours(record: Scene, accession: str) -> None:
    proposal = taking(record, accession)
    record.agree(proposal, keeper="approver", conservator="approver 2")
    record.agree(proposal, governing_body="registrar", registrar="registrar")
    with pytest.raises(NotAllowed, match="cannot be done"):
        record_repair(record.who("repairer"), proposal.object, "removed", 4, "out", version=proposal.latest())


@pytest.mark.parametrize("disposition", ["spares", "fitted elsewhere", "destroyed"])
def test_a_part_taken_out_for_work_does_not_wander_off(record: Scene, disposition: str) -> None:
    piece, who = record.a_piece(record.an_object()), record.who("repairer")
    with pytest.raises(NotAllowed, match="a part of HC 0417"):
        move_part(who, piece, disposition, "drawer", "it is old")
    with pytest.raises(NotAllowed, match="a part of HC 0417"):
        record_repair(who, record.an_object("HC 0500"), "replaced", 4, "in", fitted_piece=piece)
    assert record_repair(who, piece.object, "refitted", 4, "back in", fitted_piece=piece)
    assert piece.last_move().disposition == "refitted"


def test_parts_of_donor_stock_go_freely(record: Scene) -> None:
    piece = record.a_piece(record.an_object(accession="donor_stock"))
    assert move_part(record.who("repairer"), piece, "spares", "drawer 4").disposition == "spares"
    with pytest.raises(BadInput, match="a reason for destroying it"):
        move_part(record.who("repairer"), piece, "destroyed")
    move_part(record.who("repairer"), piece, "destroyed", why="leaks")
    with pytest.raises(BadInput, match="a part that is destroyed"):
        move_part(record.who("repairer"), piece, "spares")


def test_destroying_needs_what_grade_6_needs(record: Scene) -> None:
    piece = record.a_piece(record.an_object())
    proposal = record.a_proposal(piece.object, grade=6)
    with pytest.raises(NotAllowed):
        move_part(record.who("repairer"), piece, "destroyed", why="leaks", version=proposal.latest())
    record.agree(proposal, keeper="approver", conservator="approver 2")
    move_part(record.who("repairer"), piece, "destroyed", why="leaks", version=proposal.latest())


@pytest.mark.parametrize("role", ["recorder", "repairer", "approver", "registrar", "administrator"])
@pytest.mark.parametrize("accession", ["accessioned", "loan", ""])
def test_making_safe_never_waits(record: Scene, role: str, accession: str) -> None:
    one = record.an_object(accession=accession)
    done = make_safe(record.who(role), one, 6, "leaking battery cut out", part="BT1", removed={"words": "leaking"})
    assert done.making_safe
    move_part(record.who("repairer"), done.removed_parts.get(), "destroyed", why="it leaks")
    proposal = record.a_proposal(one, MAKE_SAFE, 6)
    assert standing_of(proposal.latest()).allowed
    make_safe(record.who(role), one, 6, "and the holder", version=proposal.latest())
    make_safe(record.who(role), one, 6, "once more", version=proposal.latest())  # ended: still not held back


def test_making_safe_is_no_way_round(record: Scene) -> None:
    """A proposal to make safe needs no consent, so it must not open the door to other work."""
    proposal = record.a_proposal(record.an_object(), MAKE_SAFE, 6)
    with pytest.raises(BadInput, match="a proposal to make something safe"):
        repair(record, proposal.latest(), 6)
    with pytest.raises(BadInput, match="made safe"):
        record_repair(record.who("repairer"), proposal.object, "made safe", 6, "x")
