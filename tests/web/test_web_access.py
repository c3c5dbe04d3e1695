"""
Every address, by every method, for everybody: who may is as `kilter.services.permissions` says.

That what is refused is answered by 403, a method that an address does not take by 405 with the header Allow, and an
unknown person sent to where one comes in: RFC 9110, sections 15.5.4, 15.5.6 and 15.4.
"""

from __future__ import annotations

from typing import Any

import pytest
from access_table import OPEN, TABLE, Form
from web_world import ALL_ROLES, PEOPLE, Browser, World, addresses, written

from kilter.services.permissions import ROLES, VERBS, may

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")
LOOK = "look at the collection"
SAFE = ("GET", "HEAD")
FEW = ("", "nobody", "reader", "repairer")
"""Who tries the methods that go the same way as another one."""


def test_no_address_is_left_out() -> None:
    assert {one.name for one in addresses()} == TABLE.keys() | OPEN
    verbs = {form.verb for one in TABLE.values() for form in one.forms} | {one.look for one in TABLE.values()}
    assert verbs - {None} <= VERBS.keys()


def roles_of(role: str) -> tuple[str, ...]:
    return ROLES if role == ALL_ROLES else (role,) if role in ROLES else ()


def expected(role: str, verb: str | None, takes: bool, good: int) -> int:
    """The status for somebody who asks."""
    if role in ("", "stranger"):
        return 302
    if not may(roles_of(role), LOOK) or (verb is not None and not may(roles_of(role), verb)):
        return 403
    return good if takes else 405


def sent(client: Browser, world: World, name: str, form: Form) -> Any:
    return client.post(world.path(name), {**form.fields(world), **form.files()})


@pytest.mark.parametrize("method", [one for one in METHODS if one != "POST"])
@pytest.mark.parametrize("name", TABLE)
def test_without_a_form(world: World, monkeypatch: pytest.MonkeyPatch, name: str, method: str) -> None:
    for module in ("figures", "pages.captures"):  # what is drawn is looked at elsewhere
        monkeypatch.setattr(f"kilter.web.{module}.svg_of", lambda _: b"<svg/>")
    address, before = TABLE[name], written()
    verb = address.look or address.forms[0].verb  # who may not send the form is told so first
    for role in PEOPLE if method in ("GET", "PUT", "DELETE") else FEW:
        answer = world.client(role).generic(method, world.path(name))
        wanted = expected(role, verb, address.look is not None and method in SAFE, 200)
        assert answer.status_code == wanted, f"{method} {name} by {role or 'nobody'}"
        if wanted == 302:
            assert answer["Location"].startswith("/door/?next=")
        if wanted == 405:
            allowed = set(answer["Allow"].replace(" ", "").split(","))
            assert allowed == ({*SAFE} if address.look else set()) | ({"POST"} if address.forms else set())
    assert written() == before


FORMS = [(name, place) for name, one in TABLE.items() for place in range(len(one.forms))]


@pytest.mark.parametrize(("name", "place"), FORMS)
def test_forms(world: World, name: str, place: int) -> None:
    from django.db import transaction

    form = TABLE[name].forms[place]
    for role in (*PEOPLE, ALL_ROLES):
        before = written()
        with transaction.atomic():
            answer = sent(world.client(role), world, name, form)
            wanted = expected(role, form.verb, True, form.status)
            assert answer.status_code == wanted, f"{name} by {role or 'nobody'}: {answer.content.decode()[-1500:]}"
            to_the_door = answer.headers.get("Location", "").startswith("/door/")
            assert to_the_door == (role in ("", "stranger"))
            if may(roles_of(role), form.verb):
                assert written() > before, f"{name} by {role} left nothing in the journal"
            else:
                assert written() == before, f"{name} by {role or 'nobody'} was refused and written"
            transaction.set_rollback(True)


@pytest.mark.parametrize("name", [name for name, one in TABLE.items() if not one.forms])
def test_pages_take_no_form(world: World, name: str) -> None:
    before = written()
    for role in PEOPLE:
        answer = world.client(role).post(world.path(name), {"act": "anything"})
        assert answer.status_code == expected(role, TABLE[name].look, False, 405)
    assert written() == before


@pytest.mark.parametrize("name", TABLE)
def test_nobody_sees_an_object_without_coming_in(world: World, name: str) -> None:
    for role in ("", "stranger", "nobody"):
        told = world.client(role).get(world.path(name)).body
        assert b"HC 0417" not in told.replace(world.path(name).encode(), b"")


def test_roles_count_as_they_are_now(world: World) -> None:
    """A role that is taken away counts at once, in a session that is open already."""
    from kilter.store.verbs.people import set_door, set_roles

    administrator, person = world.scene.who("administrator"), world.scene.who("recorder")
    browser = world.client("recorder")
    assert browser.get(world.path("say")).status_code == 200
    set_roles(administrator, person, ["reader"])
    assert browser.get(world.path("say")).status_code == 403
    assert browser.get(world.path("object")).status_code == 200
    set_door(administrator, person, is_open=False)
    assert browser.get(world.path("object")).status_code == 302


@pytest.mark.parametrize("method", METHODS)
def test_programs_need_their_own_key(world: World, method: str) -> None:
    """A browser's session opens nothing there, or another site's page could use it."""
    before = written()
    for role in (*PEOPLE, ALL_ROLES):
        answer = world.client(role).generic(method, "/api/objects", b"{}", content_type="application/json")
        assert answer.status_code in (401, 405), role or "nobody"
    assert written() == before


def test_keys_of_others_stay(world: World) -> None:
    key = world.everybody.tokens.get()
    for role in PEOPLE:
        if role == ALL_ROLES:
            continue
        answer = world.client(role).post("/me/key/end/", {"key": key.pk})
        assert answer.status_code == (302 if role in ("", "stranger") else 403 if role == "nobody" else 400)
        key.refresh_from_db()
        assert key.revoked is None
    assert world.client().post("/me/key/end/", {"key": key.pk}).status_code == 302
    key.refresh_from_db()
    assert key.revoked is not None
