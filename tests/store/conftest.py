"""A record in the tests' own data folder; every test works in a transaction that is taken back at its end."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from record_scene import Scene


@pytest.fixture(scope="session")
def tables() -> None:
    """The tables, made once; on the engine that KILTER_TEST_DATABASE names."""
    from kilter.store.prepare import prepare  # here, since Django is opened after this file is read

    prepare()


@pytest.fixture
def record(tables: None) -> Iterator[Scene]:  # noqa: ARG001
    """
    A record with an administrator.

    Rows cannot be deleted, so the whole test is taken back; before that the database looks whether all keys point to
    rows, which else it would do only at the end. Passwords are kept by a quick digest, for they are many.
    """
    from django.db import connection, transaction
    from django.test.utils import override_settings
    from record_scene import first_person

    from kilter.store.place import place

    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]), transaction.atomic():
        yield first_person()
        connection.check_constraints()
        transaction.set_rollback(True)
    for folder in (place().files, place().boards):
        shutil.rmtree(folder, ignore_errors=True)
