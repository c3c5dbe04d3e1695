"""People: oneself, and for administrators everybody."""

from __future__ import annotations

from typing import Any

from kilter.measure.errors import BadInput
from kilter.services.permissions import ROLES
from kilter.store.models import Person
from kilter.store.verbs.people import LOOK_AFTER, add_person, erase_personal, set_door, set_password, set_roles
from kilter.web.api.fields import TOLD, WHEN, WHO, WHY, moment
from kilter.web.api.found import person_named
from kilter.web.api.operation import PAGING, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.shapes import CONTROL, Many, Text, Truth, Words, filled, line

HELD = Many(Words(ROLES), len(ROLES), different=True)
PASSWORD = Text(200, rf"[^\n\r{CONTROL}]{{10,}}", "ten characters or more, one line", secret=True)
ME = Record("Me", {"key": WHO, "roles": Many(Words(ROLES))})
PERSON = Record("Person", {
    "key": WHO, "login": TOLD, "name": TOLD, "is_active": Field(Truth(), "the door lets the person in"),
    "roles": Many(Words(ROLES)), "joined": WHEN,
})  # fmt: skip
NEW = Record("NewPerson", {"login": line(60), "name": may(Text(120)), "roles": HELD, "password": PASSWORD})
NEW_ROLES = Record("NewRoles", {"roles": HELD, "why": may(WHY)})
NEW_DOOR = Record("NewDoor", {"is_active": Truth(), "why": may(WHY)})
NEW_PASSWORD = Record("NewPassword", {"password": PASSWORD})
ERASURE = Record("Erasure", {"sure": Field(filled(16), "the person's key once more"), "why": may(WHY)})


def tell_person(one: Person) -> dict[str, Any]:
    """A person; a closed door leaves no role in force, and the roles are told all the same."""
    roles = list(one.groups.order_by("pk").values_list("name", flat=True))
    return {"key": one.key, "login": one.login, "name": one.name, "is_active": one.is_active, "roles": roles,
            "joined": moment(one.joined)}  # fmt: skip


def _me(call: Call) -> Any:
    return {"key": call.actor.key, "roles": list(call.actor.roles())}


def _list(call: Call) -> Any:
    return told(call, Person.objects.select_related("personal").order_by("pk"), tell_person)


def _add(call: Call) -> Any:
    body = call.body
    return tell_person(add_person(call.actor, body["login"], body.get("name", ""), body["roles"], body["password"]))


def _roles(call: Call) -> Any:
    set_roles(call.actor, person_named(call), call.body["roles"], call.body.get("why", ""))
    return tell_person(person_named(call))


def _door(call: Call) -> Any:
    set_door(call.actor, person_named(call), is_open=call.body["is_active"], why=call.body.get("why", ""))
    return tell_person(person_named(call))


def _password(call: Call) -> Any:
    found = person_named(call)
    set_password(call.actor, found, call.body["password"])
    return tell_person(found)


def _erase(call: Call) -> Any:
    found = person_named(call)
    if call.body["sure"] != found.key:
        raise BadInput("Cannot erase", "another key", f"the key {found.key} once more", "Say it twice to be sure.")
    erase_personal(call.actor, found, call.body.get("why", ""))
    return tell_person(person_named(call))


ONE = "/people/{person}"
OPERATIONS: tuple[Operation, ...] = (
    looks("get-me", "/me", "Whose key this is, and with which roles.", _me, ME),
    looks("list-people", "/people", "Everybody.", _list, rows_of(PERSON, "PersonList"), query=PAGING, verb=LOOK_AFTER),
    makes("add-person", "/people", LOOK_AFTER, "Adds a person.", _add, PERSON, NEW),
    looks("get-person", ONE, "One person.", lambda call: tell_person(person_named(call)), PERSON, verb=LOOK_AFTER),
    Operation("set-roles", "POST", f"{ONE}/roles", LOOK_AFTER, "Gives a person just these roles.", _roles, PERSON,
              takes=NEW_ROLES),
    Operation("set-door", "POST", f"{ONE}/door", LOOK_AFTER, "Lets a person in, or no longer in.", _door, PERSON,
              takes=NEW_DOOR),
    Operation("set-password", "POST", f"{ONE}/password", LOOK_AFTER, "Gives a person a new password.", _password,
              PERSON, takes=NEW_PASSWORD),
    Operation("erase-person", "POST", f"{ONE}/erase", LOOK_AFTER, "Takes what is personal away for good; what was done "
              "stays under the key.", _erase, PERSON, takes=ERASURE),
)  # fmt: skip
