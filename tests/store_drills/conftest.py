"""Both engines, each record in a place of its own."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from servers import Server, binaries, start

sys.path.insert(0, str(Path(__file__).parents[1] / "store"))


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A PostgreSQL server; the test is skipped, and says so, where none is installed."""
    programs = binaries()
    if programs is None:
        pytest.skip("PostgreSQL's server is not installed on this machine")
    one = start(programs)
    yield one
    one.stop()


@pytest.fixture(scope="session")
def tables() -> None:
    """An empty record to copy."""
    from kilter.store.prepare import prepare

    prepare()


@pytest.fixture
def home(tables: None, tmp_path: Path) -> Path:  # noqa: ARG001
    """A data folder with an empty record."""
    from sitting import new_record

    return new_record(tmp_path / "home")


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, home: Path) -> str:
    """Address of a prepared, empty database: the file in `home`, or one on the server."""
    if request.param == "sqlite":
        return f"sqlite:///{home}/record.sqlite3"
    from sitting import sit

    def prepare(empty: str) -> None:
        assert sit(home, "init", database=empty)[0].code == 0

    server: Server = request.getfixturevalue("server")
    return server.new_record(prepare)
