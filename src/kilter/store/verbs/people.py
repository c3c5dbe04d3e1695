"""Who works with the record: people, their roles, and erasing what is personal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib.auth.models import Group
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import connection, transaction

from kilter.measure.errors import BadInput, NotAllowed
from kilter.services.permissions import ADMINISTRATOR, ROLES
from kilter.store.journal import now, take_turn, write
from kilter.store.models import LoginAttempt, Person, PersonalData
from kilter.store.verb import in_one_piece, roles_now, said, verb

LOOK_AFTER = "look after people"
AT_MACHINE = "at the machine itself"
ADD = "Cannot add the person"


def first_administrator(login: str, password: str, name: str = "", roles: Iterable[str] = ()) -> Person:
    """
    The person who lets everybody else in; only while the record knows nobody.

    Args:
        login: What is typed at the door.
        password: Their own; there is no usual one.
        name: Kept apart from the record.
        roles: More roles, for somebody who works alone.

    Raises:
        BadInput: The record has people already, or the login or password does not do.
    """

    def once() -> Person:
        with transaction.atomic():
            take_turn()
            if Person.objects.exists():
                raise BadInput("Cannot make the first administrator", "a record that has people",
                               "a record without people", "Ask its administrator for a login.")  # fmt: skip
            return _new("", login, name, tuple(dict.fromkeys((ADMINISTRATOR, *roles))), password)

    return in_one_piece("Cannot make the first administrator", once)


def add_at_the_machine(login: str, name: str, roles: Iterable[str], password: str) -> Person:
    """
    A new person, added by whoever has the data folder in hand and so needs no role; the journal tells it that way.

    Raises:
        BadInput: As for `add_person`, or the first person would not be an administrator.
    """
    wanted = tuple(roles)

    def once() -> Person:
        with transaction.atomic():
            take_turn()
            if not Person.objects.exists() and ADMINISTRATOR not in wanted:
                raise BadInput(ADD, "a first person who is no administrator", f"the role {ADMINISTRATOR} for the first",
                               "Add the administrator first.")  # fmt: skip
            return _new("", login, name, wanted, password, AT_MACHINE)

    return in_one_piece(ADD, once)


def set_password_at_the_machine(person: Person, password: str) -> None:
    """
    A new password for somebody who lost theirs, set by whoever has the data folder in hand.

    Raises:
        BadInput: It is too easy.
    """
    in_one_piece("Cannot change the password", lambda: _write_password("", person, password, AT_MACHINE))


@verb(LOOK_AFTER)
def add_person(actor: Person, login: str, name: str, roles: Iterable[str], password: str) -> Person:
    """
    A new person.

    Args:
        actor: An administrator.
        login: What is typed at the door.
        name: Kept apart from the record, and can be erased.
        roles: Of `kilter.services.permissions.ROLES`.
        password: The first one.

    Raises:
        BadInput: The login is taken, or something does not do.
    """
    return _new(actor.key, login, name, tuple(roles), password)


def _new(who: str, login: str, name: str, roles: tuple[str, ...], password: str, why: str = "") -> Person:
    typed = said(login, "login", 60, ADD, empty=False)
    if Person.objects.filter(login__iexact=typed).exists():
        raise BadInput(ADD, f"the login '{typed}' twice", "a login of one's own", "Choose another one.")
    roles = tuple(dict.fromkeys(roles))
    _check_roles(roles)
    person = Person(login=typed, joined=now())
    checked_password(person, password)
    person.set_password(password)
    person.save()
    PersonalData.objects.create(person=person, name=said(name, "name", 120, ADD))
    _give(person, roles)
    write(who, LOOK_AFTER, f"person {person.key}", why=why, after={"roles": list(roles), "active": True})
    return person


def checked_password(person: Person, password: str) -> None:
    """
    Lets a password through that is not too easy.

    Raises:
        BadInput: It is.
    """
    try:
        validate_password(password, person)
    except ValidationError as error:
        found = " ".join(str(one) for one in error.messages)
        raise BadInput("Cannot take the password", f"one that is too easy ({found})",
                       "ten characters or more that nobody guesses", "Think of another one.") from None  # fmt: skip


@verb(LOOK_AFTER)
def set_roles(actor: Person, person: Person, roles: Iterable[str], why: str = "") -> None:
    """
    Gives a person just these roles.

    Raises:
        BadInput: A role that is not there, or nobody would be administrator any more.
    """
    wanted = tuple(roles)
    _check_roles(wanted)
    before = _standing(person)
    _give(person, wanted)
    person.refresh_from_db()
    _somebody_left()
    write(actor.key, LOOK_AFTER, f"person {person.key}", why=said(why, "reason", 2000, "Cannot change the roles"),
          before=before, after=_standing(person))  # fmt: skip


@verb(LOOK_AFTER)
def set_door(actor: Person, person: Person, *, is_open: bool, why: str = "") -> None:
    """
    Lets a person in, or no longer in.

    Raises:
        BadInput: Nobody would be administrator any more.
    """
    before = _standing(person)
    Person.objects.filter(pk=person.pk).update(is_active=is_open)
    person.refresh_from_db()
    _somebody_left()
    write(actor.key, LOOK_AFTER, f"person {person.key}", why=said(why, "reason", 2000, "Cannot change the door"),
          before=before, after=_standing(person))  # fmt: skip


def set_password(actor: Person, person: Person, password: str) -> None:
    """
    A new password: one's own, or, for an administrator, anybody's. Sessions that were open end.

    Raises:
        BadInput: It is too easy.
        NotAllowed: It is somebody else's.
    """
    if actor.pk == person.pk:
        in_one_piece("Cannot change the password", lambda: _write_password(actor.key, person, password, own=True))
    else:
        _set_anybodys(actor, person, password)


@verb(LOOK_AFTER)
def _set_anybodys(actor: Person, person: Person, password: str) -> None:
    _write_password(actor.key, person, password)


def _write_password(who: str, person: Person, password: str, why: str = "", *, own: bool = False) -> None:
    with transaction.atomic():
        take_turn()
        if own and not roles_now(person):
            raise NotAllowed("Cannot change the password", "no role", "a person whom the door lets in",
                             "Ask an administrator.")  # fmt: skip
        checked_password(person, password)
        person.set_password(password)
        person.save(update_fields=["password"])
        write(who, "set a password", f"person {person.key}", why=why)


def erase_personal(actor: Person, person: Person, why: str = "") -> None:
    """
    Takes a person's name, address, login and attempts at the door away for good; what was done stays under the key.

    Backups that were made before still hold them.

    Raises:
        BadInput: Nobody would be administrator any more.
    """
    _erase(actor, person, why)
    if connection.vendor == "sqlite" and not connection.in_atomic_block:
        with connection.cursor() as cursor:  # what was written over leaves the log of writes too
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")


@verb(LOOK_AFTER)
def _erase(actor: Person, person: Person, why: str) -> None:
    login = person.login
    PersonalData.objects.filter(person=person).update(name="", email="", telephone="", note="")
    LoginAttempt.objects.filter(login=login.casefold()).delete()
    person.tokens.all().delete()
    Person.objects.filter(pk=person.pk).update(login=f"erased-{person.key}", password="!", is_active=False)
    person.refresh_from_db()
    _somebody_left()
    write(actor.key, LOOK_AFTER, f"person {person.key}", why=said(why, "reason", 2000, "Cannot erase"),
          after={"personal data": "erased", "active": False})  # fmt: skip


def _check_roles(roles: tuple[str, ...]) -> None:
    odd = next((one for one in roles if one not in ROLES), None)
    if odd is not None:
        raise BadInput("Cannot give the roles", f"'{odd}'", ", ".join(ROLES), "Choose among these.")


def _give(person: Person, roles: tuple[str, ...]) -> None:
    person.groups.set(Group.objects.filter(name__in=roles))
    person.__dict__.pop("_roles", None)


def _standing(person: Person) -> dict[str, Any]:
    names = person.groups.order_by("pk").values_list("name", flat=True)
    return {"roles": list(names), "active": person.is_active}


def _somebody_left() -> None:
    if not Person.objects.filter(is_active=True, groups__name=ADMINISTRATOR).exists():
        raise BadInput("Cannot leave the record without an administrator", "nobody else with that role",
                       "one administrator at least", "Give the role to another person first.")  # fmt: skip
