"""The pages in a real browser; the server is started as a person starts it, on a free port, with its own folder."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from served import BROWSER, Served, start

NO_BROWSER = "there is no browser at this place, so nothing was looked at"


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A browser without a screen; skipped where the machine has none."""
    playwright = pytest.importorskip("playwright.sync_api", reason="the library that drives a browser is not installed")
    if not Path(BROWSER).exists():
        pytest.skip(f"{BROWSER}: {NO_BROWSER}")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"] if os.geteuid() == 0 else [])
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A new record that knows nobody."""
    yield from _served(tmp_path_factory, "new")


@pytest.fixture(scope="session")
def demonstration(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The invented collection."""
    yield from _served(tmp_path_factory, "demo", "--demo")


@pytest.fixture(scope="session")
def furnished(chromium: Any, demonstration: Served) -> tuple[Served, list[str]]:
    """The demonstration with one more of everything that a page can show, and every address that its links lead to."""
    from furnish import every_page, furnish

    page = chromium.new_page()
    page.goto(demonstration.address)
    furnish(page, demonstration.root)
    found = every_page(page, demonstration.root)
    page.close()
    return demonstration, found


def _served(factory: pytest.TempPathFactory, name: str, *more: str) -> Iterator[Served]:
    home = factory.mktemp(name) / "home"
    server = start(home, *more)
    yield server
    server.end()
    shutil.rmtree(home, ignore_errors=True)
