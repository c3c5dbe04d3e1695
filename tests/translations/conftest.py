"""The builder of the catalogues on the path; the demonstration collection in a transaction that is taken back."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

sys.path.append(str(Path(__file__).parents[2] / "builders"))

if TYPE_CHECKING:
    from django.test import Client


@pytest.fixture(scope="module")
def collection() -> Iterator[None]:
    """The demonstration collection, with somebody who has every role."""
    from django.db import transaction
    from django.test.utils import override_settings

    from kilter.store.place import place
    from kilter.store.prepare import prepare
    from kilter.wiring.demo_collection import demo_person, fill

    prepare()
    with override_settings(PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"]), transaction.atomic():
        fill(demo_person())
        yield
        transaction.set_rollback(True)
    for folder in (place().files, place().boards):
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def german(collection: None) -> Iterator[Client]:  # noqa: ARG001
    """A browser that asks for German pages; what it records is taken back."""
    from django.db import transaction
    from django.test import Client

    from kilter.store.models import Person

    browser = Client(headers={"accept-language": "de-CH,de;q=0.9,en;q=0.5", "host": "localhost"})
    with transaction.atomic():
        browser.force_login(Person.objects.get(login="demonstration"))
        yield browser
        transaction.set_rollback(True)
