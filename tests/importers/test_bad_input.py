"""
Malformed boards, netlists and readings: each is refused in four parts, with the place and the culprit named.

The files and the pieces that their messages must hold are in tests/bad_input. The SPICE ones were made by breaking
rules of the ngspice manual, the others by breaking docs/board-file.md.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from kilter.circuit.board import Board
from kilter.importers.load import load_board, load_readings
from kilter.measure.errors import BadInput

CORPUS = Path(__file__).parents[1] / "bad_input"
EXPECTED: dict[str, list[str]] = tomllib.loads((CORPUS / "expected.toml").read_text())
SOUND = CORPUS / "boards" / "good.cir"


@pytest.fixture(scope="module")
def sound() -> Board:
    return load_board(SOUND)


def test_every_file_has_its_expectation() -> None:
    files = {str(path.relative_to(CORPUS)) for path in CORPUS.glob("*/*")} - {str(SOUND.relative_to(CORPUS))}
    assert files == set(EXPECTED)
    assert len(files) > 100


@pytest.mark.parametrize("name", EXPECTED)
def test_refused_with_place_and_culprit(name: str, sound: Board) -> None:
    path = CORPUS / name
    with pytest.raises(BadInput) as caught:
        load_readings(path, sound) if name.startswith("readings/") else load_board(path)
    error = caught.value
    assert all(part.strip() for part in (error.doing, error.found, error.allowed, error.do_next))
    assert path.name in f"{error.doing} {error.found}"
    for piece in EXPECTED[name]:
        assert piece in str(error), str(error)
    assert "\n" not in error.found
    assert str(CORPUS) not in str(error)
