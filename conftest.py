"""Tests of the record work in a data folder of their own, never in a person's."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator

import pytest

HOME = tempfile.mkdtemp(prefix="kilter-tests-")
os.environ["KILTER_HOME"] = HOME
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"  # a browser's driver leaves a loop in this thread
if os.environ.get("KILTER_TEST_DATABASE"):
    os.environ["KILTER_DATABASE"] = os.environ["KILTER_TEST_DATABASE"]
else:
    os.environ.pop("KILTER_DATABASE", None)


def pytest_configure() -> None:
    """Opens Django's registry, so that modules with models can be imported; the database is made by what uses it."""
    from kilter.store.start import start_store

    start_store("kilter.web.settings")


@pytest.fixture(scope="session", autouse=True)
def _data_folder() -> Iterator[None]:
    yield
    shutil.rmtree(HOME, ignore_errors=True)
