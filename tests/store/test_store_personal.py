"""Personal data stays apart: never in the journal, and gone from every byte of the database file once it is erased."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection
from record_scene import PASSWORD, Scene
from sitting import new_record, surroundings

from kilter.store.models import AccessToken, JournalRow, LoginAttempt, Person, PersonalData
from kilter.store.verbs.door import come_in
from kilter.store.verbs.people import add_person, erase_personal, set_door, set_password, set_roles
from kilter.store.verbs.tokens import issue_token, person_of_token, revoke_token

PLANTED = ("Zylphine", "zylphine-login", "zylphine-laptop")
"""A name, a login and the name of a machine that nobody has."""


def life(scene: Scene) -> Person:
    """Everything that can happen to a person."""
    administrator = scene.who("administrator")
    one = add_person(administrator, PLANTED[1], PLANTED[0], ["reader"], PASSWORD)
    come_in(PLANTED[1], PASSWORD, "here")
    set_roles(administrator, one, ["recorder", "reader"])
    set_door(administrator, one, is_open=False)
    set_door(administrator, one, is_open=True)
    set_password(one, one, PASSWORD + "!")
    key = issue_token(one, PLANTED[2])
    assert person_of_token(key) == one
    revoke_token(one, one.tokens.get().pk)
    assert person_of_token(key) is None
    return one


def test_the_journal_names_nobody(record: Scene) -> None:
    one = life(record)
    told = "\n".join(" ".join(map(str, row)) for row in JournalRow.objects.values_list())
    assert one.key in told
    assert not [word for word in (*PLANTED, PASSWORD, "md5$") if word in told]


def test_erasing(record: Scene) -> None:
    one = life(record)
    record.people["recorder"] = one
    statement = record.an_entry(record.a_visit())
    erase_personal(record.who("administrator"), one, "asked for in a letter")
    again = Person.objects.get(pk=one.pk)
    assert (again.name, again.roles(), again.check_password(PASSWORD + "!")) == (one.key, (), False)
    assert statement.who_id == one.pk
    assert not LoginAttempt.objects.filter(login=PLANTED[1]).exists()
    assert not AccessToken.objects.filter(person=one).exists()
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            assert not [row for row in cursor.fetchall() if any(word in str(row) for word in PLANTED)], table
    assert PersonalData.objects.get(person=one).name == ""


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL writes over erased rows when it tidies up")
def test_erased_from_the_file_itself(tables: None, tmp_path: Path) -> None:  # noqa: ARG001
    """SQLite leaves deleted text in free pages and in its log of writes unless told otherwise (its manual)."""
    code = f"""
import sys
from kilter.store.start import start_store
start_store()
from django.conf import settings
settings.PASSWORD_HASHERS = ['django.contrib.auth.hashers.MD5PasswordHasher']
from kilter.store.verbs import people
boss = people.add_at_the_machine('boss', '', ['administrator'], {PASSWORD!r})
for count in range(40):
    one = people.add_person(boss, f'{PLANTED[1]}{{count}}', {PLANTED[0]!r} * 9, ['reader'], {PASSWORD!r})
    if sys.argv[1:]:
        people.erase_personal(boss, one)
"""
    for wish in ((), ("erase",)):
        home = new_record(tmp_path / f"record{len(wish)}")
        subprocess.run([sys.executable, "-c", code, *wish], check=True, env=surroundings(home))
        bytes_ = b"".join(path.read_bytes() for path in home.iterdir())
        assert (PLANTED[0].encode() in bytes_) is not bool(wish)
        assert (PLANTED[1].encode() in bytes_) is not bool(wish)
