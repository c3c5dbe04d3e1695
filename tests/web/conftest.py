"""A small record for the pages; a module's tests share it, and each takes back what it wrote."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

sys.path.append(str(Path(__file__).parents[1] / "store"))  # the scene of the record's own tests

if TYPE_CHECKING:
    from web_world import World


@pytest.fixture(scope="session")
def tables() -> None:
    """The tables, made once."""
    from kilter.store.prepare import prepare  # here, since Django is opened after this file is read

    prepare()


@pytest.fixture(scope="module")
def kept_world(tables: None) -> Iterator[World]:  # noqa: ARG001
    """A record with people of every role and one of everything; rows cannot be deleted, so all of it is taken back."""
    from django.db import transaction
    from django.test.utils import override_settings
    from web_world import make_world

    from kilter.store.place import place

    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]), transaction.atomic():
        yield make_world()
        transaction.set_rollback(True)
    for folder in (place().files, place().boards):
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def world(kept_world: World) -> Iterator[World]:
    """The record as it was made."""
    from django.db import transaction

    with transaction.atomic():
        yield kept_world
        transaction.set_rollback(True)


@pytest.fixture
def bare(tables: None) -> Iterator[None]:  # noqa: ARG001
    """A record that knows nobody."""
    from django.db import transaction
    from django.test.utils import override_settings

    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]), transaction.atomic():
        yield
        transaction.set_rollback(True)
