"""
What belongs to one object is not reached under another's address, and numbers that nothing has lead nowhere.

Reaching a thing by trying its number is a usual weakness of applications; that such an address is answered as one that
is not there is RFC 9110, section 15.5.5.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from access_table import OBJECT, TABLE, WORK, a_picture
from web_world import World, addresses, written

from kilter.store.models import Statement
from kilter.store.verbs.visits import open_visit

HUGE = ("9" * 19, "9" * 5000)
WITH_NUMBERS = [name for name in TABLE if any(
    set(one.pattern.converters) & {"pk", "number", "channel"} for one in addresses() if one.name == name
)]  # fmt: skip


def refused(world: World, address: str, told: dict[str, object] | None, status: int) -> None:
    before = written()
    browser = world.client()
    answer = browser.get(address) if told is None else browser.post(address, told)
    assert answer.status_code == status, answer.body.decode()[-600:]
    assert written() == before


@pytest.mark.parametrize("name", [name for name in TABLE if name in {
    "visit", "change_visit", "bring_to_visit", "bench", "take", "gate", "switch_on_plan", "take_checks", "let_power_on",
    "thorough", "beside", "beside_picture", "work_out_cures",
}])  # fmt: skip
def test_a_visit_under_another_object(world: World, name: str) -> None:
    """Visit 2 is of the other object alone."""
    open_visit(world.scene.who("repairer"), world.other, "another one")
    address = world.path(name).replace("/visit/1/", "/visit/2/")
    for told in (None, *(form.fields(world) | form.files() for form in TABLE[name].forms)):
        if told is not None or TABLE[name].look:
            refused(world, address, told, 404)


CASES: dict[str, tuple[str, Callable[[World], dict[str, object]], int]] = {
    "statement": ("say", lambda world: {"kind": "note", "text": "x", "supersedes": world.other_statement.pk}, 404),
    "edition of a board that the object has not": (
        "open_visit", lambda world: {"reason": "x", "edition": world.other_edition.pk}, 404),
    "edition of another board": (
        "change_visit", lambda world: {"kind": "board", "edition": world.other_edition.pk}, 404),
    "visit of a proposal": ("propose", lambda _: {**WORK, "visit": 2}, 404),
    "visit of a repair": ("repair", lambda _: {"act": "cleaned", "grade": 3, "words": "x", "visit": 2}, 404),
    "proposal of a repair": ("repair", lambda world: {
        "act": "cleaned", "grade": 3, "words": "x", "version": world.other_proposal.latest().pk}, 404),
    "version of another proposal": ("answer", lambda _: {
        "version": 2, "capacity": "keeper", "decision": "consent"}, 404),
    "entry of another visit": ("take", lambda world: {
        "act": "undo", "after": world.visit.entries.count(), "entry": 99}, 400),
    "board that nobody knows": ("change", lambda _: {**OBJECT, "edition": 1, "board": "none-such"}, 400),
    "receiver that nobody knows": ("propose", lambda _: {**WORK, "act": "take parts", "receiver": "HC 9999"}, 400),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_things_of_another_object(world: World, case: str) -> None:
    from kilter.store.verbs.proposals import change_proposal

    open_visit(world.scene.who("repairer"), world.other, "another one")
    change_proposal(world.scene.who("repairer"), world.other_proposal, {**WORK, "grade": 4})
    name, told, status = CASES[case]
    refused(world, world.path(name), told(world), status)


@pytest.mark.parametrize("number", HUGE)
@pytest.mark.parametrize("name", WITH_NUMBERS)
def test_numbers_that_nothing_has(world: World, name: str, number: str) -> None:
    pattern = next(one for one in addresses() if one.name == name).pattern
    places = {one: str(value) for one, value in world.places(name).items()}
    for one in {"pk", "number", "channel"} & set(pattern.converters):
        address = "/" + re.sub(r"<\w+:(\w+)>", lambda found: {**places, one: number}[found[1]], str(pattern))  # noqa: B023
        answer = world.client().get(address)
        assert answer.status_code in ((404, 405) if TABLE[name].forms and not TABLE[name].look else (404,)), address


NUMBERS = [("say", "supersedes"), ("open_visit", "edition"), ("change_visit", "edition"), ("propose", "visit"),
           ("propose", "grade"), ("repair", "visit"), ("repair", "version"), ("repair", "grade"), ("answer", "version"),
           ("take", "after"), ("let_power_on", "after"), ("change", "edition"),
           ("collection", "page")]  # fmt: skip


@pytest.mark.parametrize(("name", "field"), NUMBERS)
def test_fields_that_hold_numbers(world: World, name: str, field: str) -> None:
    """What is no whole number is refused and written nowhere; none of it makes the program fail."""
    address, forms, before = world.path(name), TABLE[name].forms, written()
    for number in (*HUGE, "-1", "1e3", "²", "٣", "NaN", "0x1", "1\0"):
        for form in forms:
            told = world.client().post(address, {**form.fields(world), field: number})
            assert told.status_code in (400, 404), number
        if TABLE[name].look:
            assert world.client().get(address, {field: number}).status_code in (200, 400, 404), number
    assert written() == before


def test_a_file_of_another_visit_stays_where_it_is(world: World) -> None:
    """A file that is brought to a visit lies with that visit's object, whatever the form says."""
    told = {**a_picture(), "kind": "photograph", "object": world.other.pk, "visit": world.other_visit.pk}
    assert world.client().post(world.path("bring_to_visit"), told).status_code == 302
    assert not world.other.filings.exists()


def test_who_is_who_is_not_for_a_form_to_say(world: World) -> None:
    told = {"kind": "note", "text": "x", "who": world.scene.who("administrator").pk, "actor": 1, "at": "1999-01-01"}
    assert world.client("recorder").post(world.path("say"), told).status_code == 302
    assert Statement.objects.order_by("-pk")[0].who == world.scene.who("recorder")
