"""The reference simulator and the netlists of the trade, for the tests of the circuit engine."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest

from kilter.circuit.board import Board
from kilter.importers.load import load_board
from kilter.measure.errors import NotAvailable
from kilter.simulate.ngspice import NgspiceWorker
from kilter.simulate.ngspice.library import find_ngspice

NETLISTS = Path(__file__).parents[1] / "netlists"


@pytest.fixture(scope="session")
def worker() -> Iterator[NgspiceWorker]:
    """The reference, in a process of its own; tests that need it are skipped where it is absent."""
    try:
        find_ngspice()
    except NotAvailable:
        pytest.skip("the ngspice shared library is absent")
    with NgspiceWorker() as started:
        yield started


@cache
def _netlist(name: str) -> Board:
    return load_board(NETLISTS / f"{name}.cir")


@pytest.fixture(scope="session")
def netlist() -> Callable[[str], Board]:
    """A function from the name of a netlist of the trade to its board."""
    return _netlist
