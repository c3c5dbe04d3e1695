"""One small record for each file of tests; what a test does to it is taken back."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from api_scene import Scene


@pytest.fixture(scope="module")
def whole() -> Iterator[Scene]:
    """The record, within a transaction that is taken back at the end: rows cannot be deleted."""
    from api_scene import make_scene
    from django.db import connection, transaction
    from django.test.utils import override_settings

    from kilter.store.place import place
    from kilter.store.prepare import prepare

    prepare()
    (place().home / "static").mkdir(exist_ok=True)  # the middleware for static files warns where it is missing
    quick = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    with override_settings(PASSWORD_HASHERS=quick), transaction.atomic():
        yield make_scene()
        connection.check_constraints()
        transaction.set_rollback(True)
    for folder in (place().files, place().boards):
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def scene(whole: Scene) -> Iterator[Scene]:
    """The same for one test."""
    from django.db import transaction

    from kilter.wiring import record_bench

    with transaction.atomic():
        yield whole
        transaction.set_rollback(True)
    record_bench._desks.clear()  # what was weighed for rows that were taken back
