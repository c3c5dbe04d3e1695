"""The demonstration object, and ngspice where it is there."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from importlib.resources import as_file, files
from pathlib import Path

import pytest

from kilter.circuit.board import Board
from kilter.importers.load import load_board
from kilter.measure.errors import NotAvailable
from kilter.simulate.ngspice import NgspiceWorker
from kilter.simulate.ngspice.library import find_ngspice

BUILDERS = Path(__file__).parent.parent.parent / "builders"


@pytest.fixture(scope="session")
def folder() -> Iterator[Path]:
    with as_file(files("kilter.data") / "demo") as found:
        yield found


@pytest.fixture(scope="session")
def board(folder: Path) -> Board:
    return load_board(folder)


@pytest.fixture(scope="session")
def worker() -> Iterator[NgspiceWorker]:
    try:
        find_ngspice()
    except NotAvailable:
        pytest.skip("the ngspice shared library is absent")
    with NgspiceWorker() as started:
        yield started


@pytest.fixture(scope="session")
def builders() -> Iterator[None]:
    sys.path.insert(0, str(BUILDERS))
    yield
    sys.path.remove(str(BUILDERS))
