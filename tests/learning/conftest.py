"""The record's own scene, for what is learned from its visits; every test is taken back at its end."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

sys.path.append(str(Path(__file__).parents[1] / "store"))  # the scene of the record's own tests

if TYPE_CHECKING:
    from learned_scene import Lessons


@pytest.fixture
def lessons() -> Iterator[Lessons]:
    """A record with a small board, and visits that can be closed with an outcome."""
    pytest.importorskip("django")
    from django.db import connection, transaction
    from django.test.utils import override_settings
    from learned_scene import make_lessons

    from kilter.store.place import place
    from kilter.store.prepare import prepare

    prepare()
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]), transaction.atomic():
        yield make_lessons()
        connection.check_constraints()
        transaction.set_rollback(True)
    for folder in (place().files, place().boards):
        shutil.rmtree(folder, ignore_errors=True)
