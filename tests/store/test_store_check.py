"""
What somebody did who owns the database and takes the triggers away first: found, and named.

That the chain is what it says (SHA-256 over JSON with sorted keys, hash of the entry before in it) is shown with a text
written by hand and the system's own sha256sum.
"""

from __future__ import annotations

import re
import subprocess

import pytest
from django.contrib.auth.models import Group
from django.db import connection
from record_scene import Scene, by_force, somebody

from kilter.services.journal_chain import START
from kilter.store.check import check
from kilter.store.journal import head
from kilter.store.models import JournalRow, Person
from kilter.store.verbs.files import file_store
from kilter.store.verbs.people import set_door, set_roles
from kilter.store.verbs.statements import state


def lived_in(scene: Scene) -> None:
    """Some of everything."""
    one = scene.an_object()
    scene.an_entry(scene.a_visit(one))
    scene.a_file(one)
    scene.a_piece(one)
    set_roles(scene.who("administrator"), scene.who("reader"), ["reader", "approver"])
    set_door(scene.who("administrator"), scene.who("reader 2"), is_open=False)
    state(scene.who("recorder"), one, "note", "smells of varnish", reliability=1)


def test_a_record_in_order(record: Scene) -> None:
    lived_in(record)
    found = check()
    assert found.wrong == ()
    assert (found.entries, found.head) == head()
    assert found.rows == 9  # one in each table that `lived_in` writes to
    assert found.files == 1


def test_an_empty_record(record: Scene) -> None:  # noqa: ARG001
    assert check().wrong == ()


def test_the_hash_by_hand(record: Scene) -> None:
    """FIPS 180-4 as coreutils has it, over JSON text as RFC 8259 allows it, keys in order."""
    record.an_object()
    first, second = JournalRow.objects.order_by("number")[:2]
    assert first.previous == START == "0" * 64
    assert second.previous == first.hash
    text = (
        f'{{"after":"{{\\"rows\\":{{}},\\"set\\":{{\\"active\\":true,\\"roles\\":[\\"administrator\\"]}}}}","at":"{first.at}",'
        f'"before":"","edition":1,"evidence":"","number":1,"previous":"{"0" * 64}","verb":"look after people",'
        f'"what":"person {record.who("administrator").key}","who":"","why":"at the machine itself"}}'
    )
    told = subprocess.run(["sha256sum"], input=text.encode(), capture_output=True, check=True).stdout.split()[0]
    assert told.decode() == first.hash


STATEMENTS = 'store_statement (at, who_id, object_id, kind, text, source, "when", part, mode, withdrawn)'
TAMPERED = {
    "a reading": (
        "store_visitentry",
        "UPDATE store_visitentry SET value = 0.885",
        r"visitentry \d+ was altered after journal entry \d+: value$",
    ),
    "a row taken out": (
        "store_partmove", "DELETE FROM store_partmove", r"partmove \d+ is gone; journal entry \d+ tells of it"
    ),
    "a row put in": (
        "store_statement",
        f"INSERT INTO {STATEMENTS} SELECT at, who_id, object_id, kind, 'mine', '', '', '', '', withdrawn "
        "FROM store_statement",
        r"statement \d+ is not in the journal: somebody put it in",
    ),
    "an entry": (
        "store_journalrow",
        "UPDATE store_journalrow SET why = 'lost' WHERE number = 3",
        r"journal: entry 3 \(.*\) was altered",
    ),
    "an entry's hash": (
        "store_journalrow",
        "UPDATE store_journalrow SET hash = 'f' WHERE number = 3",
        r"journal: entry 3 \(.*\) was altered",
    ),
    "an entry taken out": (
        "store_journalrow", "DELETE FROM store_journalrow WHERE number = 4", "journal: entry 4 is missing"
    ),
    "the first entry": (
        "store_journalrow", "DELETE FROM store_journalrow WHERE number = 1", "journal: entry 1 is missing"
    ),
    "an entry made into something else": (
        "store_journalrow", "UPDATE store_journalrow SET after = '[7]' WHERE number = 3", "journal: entry 3"
    ),
    "an object": (
        "store_collectionobject",
        "UPDATE store_collectionobject SET owner = 'me'",
        "object HC 0417 was altered after its edition 1: owner",
    ),
    "an object's edition": (
        "store_collectionobject",
        "UPDATE store_collectionobject SET edition = 2",
        "object HC 0417 shows edition 2, and its latest is 1",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", TAMPERED)
def test_tampering_is_named(record: Scene, what: str) -> None:
    lived_in(record)
    table, sql, expected = TAMPERED[what]
    by_force(table, sql)
    wrong = check().wrong
    assert any(re.search(expected, one) for one in wrong), wrong
    assert not any("triggers" in one for one in wrong)


def test_a_chain_written_anew_is_told_by_the_head(record: Scene) -> None:
    """The end of a chain cannot vouch for itself; a head that was kept elsewhere does."""
    lived_in(record)
    kept = head()
    number = kept[0]
    by_force("store_statement", "DELETE FROM store_statement")
    by_force("store_journalrow", "DELETE FROM store_journalrow WHERE number = %s", number)
    found = check()
    assert found.wrong == ()
    assert (found.entries, found.head) != kept


def test_roles_given_behind_the_journals_back(record: Scene) -> None:
    lived_in(record)
    one = record.who("recorder")
    one.groups.add(Group.objects.get(name="administrator"))
    assert check().wrong == (
        f"person {one.key} has roles or a door that the journal does not tell: administrator, recorder",
    )


def test_a_door_opened_behind_the_journals_back(record: Scene) -> None:
    lived_in(record)
    one = record.who("reader 2")
    Person.objects.filter(pk=one.pk).update(is_active=True)
    assert check().wrong == (f"person {one.key} has roles or a door that the journal does not tell: reader",)


def test_a_person_put_in(record: Scene) -> None:
    lived_in(record)
    one = somebody("shadow")
    assert check().wrong == (f"person {one.key} is not in the journal: somebody put it in",)


def test_a_person_taken_out(record: Scene) -> None:
    lived_in(record)
    one = record.who("reader")
    Person.objects.filter(pk=one.pk).delete()
    assert check().wrong == (f"person {one.key} is gone; the journal tells of it",)


def test_missing_and_changed_triggers(record: Scene) -> None:
    lived_in(record)
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("DROP TRIGGER append_only_store_repair_delete")
            cursor.execute("DROP TRIGGER append_only_store_visit_update")
            name = "append_only_store_visit_update"
            cursor.execute(f"CREATE TRIGGER {name} BEFORE UPDATE ON store_visit BEGIN SELECT 1; END")
        else:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("DROP TRIGGER append_only_store_repair_delete ON store_repair")
            cursor.execute("ALTER TABLE store_visit DISABLE TRIGGER append_only_store_visit_update")
    assert check().wrong == ("the table store_repair lost its triggers", "the table store_visit lost its triggers")


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite's triggers call no function")
def test_the_function_behind_all_triggers(record: Scene) -> None:
    lived_in(record)
    with connection.cursor() as cursor:
        cursor.execute(
            "CREATE OR REPLACE FUNCTION kilter_append_only() RETURNS trigger LANGUAGE plpgsql "
            "AS $$ BEGIN RETURN NEW; END $$"
        )
    assert "the table store_journalrow lost its triggers" in check().wrong


def test_files_missing_and_altered(record: Scene) -> None:
    one = record.an_object()
    first, second = record.a_file(one, b"one").attachment, record.a_file(one, b"two").attachment
    path = file_store().path(second.sha256)
    path.chmod(0o644)
    path.write_bytes(b"tow")
    file_store().path(first.sha256).unlink()
    assert check().wrong == (
        f"the file {first.sha256} is missing",
        f"the file {second.sha256} was altered: 3 bytes, 3 were kept",
    )
    assert check(files=False).wrong == ()


def test_where_it_looks_is_told(record: Scene) -> None:
    lived_in(record)
    heard: list[str] = []
    check(told=heard.append)
    told = [words.split(",")[0] for words in heard]
    assert told[-3:] == ["the journal", "the rows the journal tells of", "the files"]
