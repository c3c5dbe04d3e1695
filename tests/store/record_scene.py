"""An invented small collection: a person for every role, an object, a visit, a proposal, made by the verbs."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from typing import Any

from django.contrib.auth.models import Group
from django.db import connection

from kilter.records.reading import Reading
from kilter.services.permissions import ROLES
from kilter.services.visit_log import READ
from kilter.store.journal import now
from kilter.store.models import (
    CollectionObject,
    Filing,
    JournalRow,
    Person,
    PersonalData,
    Proposal,
    RemovedPart,
    Repair,
    Visit,
    VisitEntry,
)
from kilter.store.triggers import protect, protected_tables
from kilter.store.verbs.files import attach
from kilter.store.verbs.objects import receive_object
from kilter.store.verbs.people import add_at_the_machine
from kilter.store.verbs.proposals import answer, propose
from kilter.store.verbs.repairs import record_repair
from kilter.store.verbs.visits import add_entry, open_visit

PASSWORD = "eleven teal kettles"
NOBODY = "nobody"
STRANGER = "stranger"
"""A person without any role, and one whose door is closed."""


@dataclass
class Scene:
    """People by role; more than one of a role has a number, as 'approver 2'."""

    people: dict[str, Person]

    def who(self, role: str) -> Person:
        """The person with just this role, made when first asked for."""
        if role not in self.people:
            kind = role.split()[0]
            roles = (kind,) if kind in ROLES else ()
            self.people[role] = add_at_the_machine(role.replace(" ", "-"), f"Somebody {role}", roles, PASSWORD)
            if kind == STRANGER:
                one = self.people[role]
                one.groups.set(Group.objects.all())
                Person.objects.filter(pk=one.pk).update(is_active=False)
                one.refresh_from_db()
        return self.people[role]

    def an_object(self, number: str = "HC 0417", **fields: Any) -> CollectionObject:
        """A step computer of the permanent collection, unless told otherwise."""
        usual = {"name": "Step computer", "kind": "teaching computer", "made": "about 1983", "accession": "accessioned"}
        return receive_object(self.who("registrar"), {"number": number, **usual, **fields}, "found in the attic")

    def a_visit(self, about: CollectionObject | None = None) -> Visit:
        """An open one."""
        return open_visit(self.who("repairer"), about or self.an_object(), "no sound")

    def an_entry(self, visit: Visit, after: int = 0, **more: Any) -> VisitEntry:
        """A voltage at the amplifier's input."""
        told = {"point": "BASE1", "quantity": "voltage", "value": 1.524, "uncertainty": 0.005, "state": "bench", **more}
        words = {"point": str(told["point"]), "value": "1.524 V"}
        return add_entry(self.who("recorder"), visit, READ, words, Reading(**told), after=after)

    def a_proposal(self, about: CollectionObject, act: str = "work", grade: int = 4, **more: Any) -> Proposal:
        """By the repairer."""
        told = {"act": act, "grade": grade, "part": "R41", "words": "put in another one", "reason": "it drifted",
                "alternatives": "leave it silent", "undo": "the old one is kept", **more}  # fmt: skip
        return propose(self.who("repairer"), about, told)

    def agree(self, proposal: Proposal, **capacities: str) -> None:
        """Consent, by capacity to the role of who gives it, blanks as underscores."""
        for capacity, role in capacities.items():
            answer(self.who(role), proposal.latest(), capacity.replace("_", " "), "consent")

    def a_piece(self, about: CollectionObject, grade: int = 4) -> RemovedPart:
        """A resistor that was taken out and lies with its object."""
        repair = record_repair(self.who("repairer"), about, "removed", grade, "taken out", part="R41",
                               removed={"words": "brown black orange", "original": True})  # fmt: skip
        return repair.removed_parts.get()

    def a_file(self, about: CollectionObject, content: bytes = b"\x89PNG", name: str = "front.png") -> Filing:
        """A photograph."""
        return attach(self.who("recorder"), BytesIO(content), name, "photograph", "image/png", about=about)

    def a_repair(self, about: CollectionObject) -> Repair:
        """Of a grade that nobody needs to agree to."""
        return record_repair(self.who("repairer"), about, "cleaned", 3, "contact cleaner on the edge connector")


def first_person() -> Scene:
    """The administrator alone."""
    scene = Scene({})
    scene.who("administrator")
    return scene


def somebody(login: str) -> Person:
    """A row of a person that no verb made."""
    person = Person.objects.create(login=login, joined=now(), password="!")
    PersonalData.objects.create(person=person)
    return person


def last_entry() -> JournalRow:
    """Of the journal."""
    return JournalRow.objects.order_by("-number")[0]


def by_force(table: str, sql: str, *values: Any) -> None:
    """
    What somebody does who owns the database: triggers off, a change, triggers on again.

    Args:
        table: Whose triggers are in the way.
        sql: The change.
        values: Its values.
    """
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        for kind in ("update", "delete"):
            where = "" if connection.vendor == "sqlite" else f' ON "{table}"'
            cursor.execute(f'DROP TRIGGER IF EXISTS "append_only_{table}_{kind}"{where}')
        cursor.execute(sql, values)
    with connection.schema_editor(atomic=False) if connection.vendor == "postgresql" else Editor() as editor:
        protect(editor, table, updates=protected_tables()[table])


class Editor:
    """SQLite's own schema editor wants no transaction around it; this one sends statements as they are."""

    connection = connection

    def __enter__(self) -> Editor:
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing to end."""

    def execute(self, sql: str, values: Any = ()) -> None:
        with connection.cursor() as cursor:
            cursor.execute(sql, values)
