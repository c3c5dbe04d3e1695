"""Two boards of chips of our own, loaded once."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.circuit.board import Board
from kilter.importers.load import load_board

DATA = Path(__file__).parent / "data"


@pytest.fixture(scope="session")
def terminal() -> Board:
    return load_board(DATA / "terminal.net")


@pytest.fixture(scope="session")
def controller() -> Board:
    return load_board(DATA / "controller.net")
