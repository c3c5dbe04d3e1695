"""
Every verb, tried by a person of each role, by one without a role and by one whose door is closed.

Who may do what is the project's own table, `kilter.services.permissions.VERBS`; that the roles are kept apart as good
practice has it (whoever looks after people has no say over objects, a reader writes nothing) is tested beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

import pytest
from display_scene import DEEDS as DISPLAY_DEEDS
from django.db import transaction
from record_scene import NOBODY, PASSWORD, STRANGER, Scene
from soak_scene import DEEDS as SOAK_DEEDS

from kilter.measure.errors import NotAllowed
from kilter.records.reading import Reading
from kilter.services.permissions import ADMINISTRATOR, READER, ROLES, VERBS
from kilter.services.visit_log import CHECKED, READ, WAIVED
from kilter.store.models import JournalRow, Person
from kilter.store.verbs import (
    boards,
    files,
    jobs,
    learned,
    objects,
    outcomes,
    people,
    proposals,
    repairs,
    statements,
    tokens,
    visits,
)

Deed = Callable[[Scene, Person], Any]
VOLT = Reading("BASE1", "voltage", 1.5, uncertainty=0.005, state="bench")
FIELDS = {"act": "work", "grade": 4, "words": "put in another one", "reason": "it drifted"}
ENDED = ("parts were faulty", {"R41": "high"}, "works again")
LAMP = {"number": "HC 0001", "name": "Signal lamp"}


def answers(scene: Scene, one: Person) -> Any:
    version = scene.a_proposal(scene.an_object()).latest()
    capacity = "registrar" if "registrar" in one.roles() else "keeper"
    return proposals.answer(one, version, capacity, "refusal")


DEEDS: dict[str, tuple[str, Deed]] = {
    "issue_token": ("look at the collection", lambda _, one: tokens.issue_token(one, "bench script")),
    "receive_object": ("receive an object", lambda _, one: objects.receive_object(one, LAMP)),
    "edit_object": (
        "change an object's entry", lambda s, one: objects.edit_object(one, s.an_object(), {"name": "Lamp"}, "misread")
    ),
    "state": (
        "write about an object", lambda s, one: statements.state(one, s.an_object(), "note", "smells of varnish")
    ),
    "take_back": (
        "write about an object",
        lambda s, one: statements.take_back(
            one, statements.state(s.who("recorder"), s.an_object(), "note", "smells"), "it was the shelf"
        ),
    ),
    "attach": (
        "attach a file",
        lambda s, one: files.attach(one, BytesIO(b"x"), "a.txt", "document", "text/plain", about=s.an_object()),
    ),
    "take_file_away": ("attach a file", lambda s, one: files.take_file_away(one, s.a_file(s.an_object()), "blurred")),
    "keep_board": ("keep a board", lambda _, one: boards.keep_board(one, "lamp", "Lamp", "a.toml", {"a.toml": b"x"})),
    "open_visit": ("open a visit", lambda s, one: visits.open_visit(one, s.an_object())),
    "set_visit": ("record at the bench", lambda s, one: visits.set_visit(one, s.a_visit(), "closed")),
    "add_entry": ("record at the bench", lambda s, one: visits.add_entry(one, s.a_visit(), READ, {}, VOLT, after=0)),
    "record_check": (
        "record at the bench", lambda s, one: visits.record_check(one, s.a_visit(), "fuse fits", "passed")
    ),
    "checks passed": (
        "pass the power checks", lambda s, one: visits.add_entry(one, s.a_visit(), CHECKED, {}, None, after=0)
    ),
    "checks waived": (
        "pass the power checks",
        lambda s, one: visits.add_entry(one, s.a_visit(), WAIVED, {"note": "known to run"}, None, after=0),
    ),
    "propose": ("propose work", lambda s, one: proposals.propose(one, s.an_object(), FIELDS)),
    "change_proposal": (
        "propose work", lambda s, one: proposals.change_proposal(one, s.a_proposal(s.an_object()), FIELDS)
    ),
    "withdraw_proposal": (
        "propose work", lambda s, one: proposals.withdraw_proposal(one, s.a_proposal(s.an_object()), "no longer")
    ),
    "answer": ("answer a proposal", answers),
    "record_repair": (
        "record a repair", lambda s, one: repairs.record_repair(one, s.an_object(), "cleaned", 3, "contacts")
    ),
    "make_safe": ("make something safe", lambda s, one: repairs.make_safe(one, s.an_object(), 6, "battery cut off")),
    "move_part": (
        "move a removed part",
        lambda s, one: repairs.move_part(one, s.a_piece(s.an_object()), "kept with the object", "bag 4"),
    ),
    "note_outcome": ("say how a visit ended", lambda s, one: outcomes.note_outcome(one, s.a_visit(), *ENDED)),
    "take_outcome_back": (
        "say how a visit ended",
        lambda s, one: outcomes.take_outcome_back(
            one, outcomes.note_outcome(s.who("recorder"), s.a_visit(), *ENDED), "it fell silent again"
        ),
    ),
    "add_learned": ("learn from visits", lambda _, one: learned.add_learned(one, "counts", {"counts": []}, after=0)),
    "withdrawn": (
        "withdraw what was learned",
        lambda _, one: learned.add_learned(one, "withdrawn", {"entry": 1, "why": "x"}, after=0),
    ),
    "exported": (
        "share experience", lambda _, one: learned.add_learned(one, "exported", {"sha256": "0" * 64}, after=0)
    ),
    "know_sharer": ("share experience", lambda _, one: learned.know_sharer(one, "harbour", "5" * 64, 0.5)),
    "forget_sharer": (
        "share experience",
        lambda s, one: learned.forget_sharer(
            one, learned.know_sharer(s.who("registrar"), "harbour", "5" * 64, 0.5), "it was lost"
        ),
    ),
    **DISPLAY_DEEDS,
    **SOAK_DEEDS,
    "ask_for": ("start long work", lambda _, one: jobs.ask_for(one, "sweep", {})),
    "stop": ("stop long work", lambda s, one: jobs.stop(one, jobs.ask_for(s.who("recorder"), "sweep", {}))),
    "add_person": ("look after people", lambda _, one: people.add_person(one, "new", "N", ["reader"], PASSWORD)),
    "set_roles": ("look after people", lambda s, one: people.set_roles(one, s.who("reader 2"), ["recorder"])),
    "set_door": ("look after people", lambda s, one: people.set_door(one, s.who("reader 2"), is_open=False)),
    "set_password": ("look after people", lambda s, one: people.set_password(one, s.who("reader 2"), PASSWORD + "!")),
    "erase_personal": ("look after people", lambda s, one: people.erase_personal(one, s.who("reader 2"))),
}
ELSEWHERE = {"hand the record over"}
"""Verbs that write nothing here: the command that exports asks."""


def test_every_verb_is_tried() -> None:
    assert {verb for verb, _ in DEEDS.values()} | ELSEWHERE == set(VERBS)


@pytest.mark.parametrize("deed", DEEDS)
def test_roles(record: Scene, deed: str) -> None:
    verb, work = DEEDS[deed]
    everybody = {role: record.who(role) for role in (*ROLES, "reader 2", NOBODY, STRANGER)}
    del everybody["reader 2"]
    for role, one in everybody.items():
        with transaction.atomic():
            before = JournalRow.objects.count()
            if role in VERBS[verb]:
                work(record, one)
                assert JournalRow.objects.filter(number__gt=before, who=one.key).exists(), f"{deed} by {role}"
            else:
                with pytest.raises(NotAllowed) as told:
                    work(record, one)
                assert all((told.value.found, told.value.allowed, told.value.do_next))
                assert not JournalRow.objects.filter(number__gt=before, who=one.key, verb=verb).exists()
            transaction.set_rollback(True)


def test_roles_are_kept_apart() -> None:
    """Segregation of duties: common practice of audited systems, no source."""
    about_objects = set(VERBS) - {"look at the collection", "look after people", "stop long work"}
    assert {verb for verb in about_objects if ADMINISTRATOR in VERBS[verb]} == {"make something safe"}
    assert [verb for verb, roles in VERBS.items() if READER in roles] == ["look at the collection"]
    assert VERBS["look after people"] == {ADMINISTRATOR}


def test_a_role_that_was_lost_is_lost_at_once(record: Scene) -> None:
    registrar = record.who("registrar")
    assert registrar.roles() == ("registrar",)
    people.set_roles(record.who("administrator"), Person.objects.get(pk=registrar.pk), ["reader"])
    with pytest.raises(NotAllowed, match="the role reader"):
        objects.receive_object(registrar, LAMP)
    assert registrar.roles() == ("registrar",)  # what the object in memory still believes


def test_somebody_is_left_to_let_people_in(record: Scene) -> None:
    administrator = record.who("administrator")
    for deed in (
        lambda: people.set_roles(administrator, administrator, ["reader"]),
        lambda: people.set_door(administrator, administrator, is_open=False),
        lambda: people.erase_personal(administrator, administrator),
    ):
        with pytest.raises(Exception, match="without an administrator"):
            deed()
    assert Person.objects.get(pk=administrator.pk).roles() == ("administrator",)


def test_ones_own_password(record: Scene) -> None:
    one = record.who("reader")
    people.set_password(one, one, "twelve green pans")
    assert one.check_password("twelve green pans")
    stranger = record.who(STRANGER)
    with pytest.raises(NotAllowed, match="no role"):
        people.set_password(stranger, stranger, "twelve green pans")
