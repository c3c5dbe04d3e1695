"""What a SPICE netlist becomes on the board: parts, pins, points, guesses, warnings."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.circuit.board import Board
from kilter.importers.spice import read_spice
from kilter.measure.errors import BadInput

TEXT = """A small board
V1 in 0 9
I1 0 b 1u
R12 in B 4k7
R4 b 0 1M
r5 b 0 {2*k}
C1 in 0 100u
C2 in 0 10n
D1 0 b dz
Q7 in b out qn
XU1 in 0 reg lm7805
X2 in out mystery
E1 x 0 b 0 2
RX x reg 1k
.param k=1k
.model dz d(bv=5.1 rs=2)
.model qn npn(rb=100)
.subckt lm7805 vin gnd vout
Q3 vin n vout qn
R1 vin n 1k
RO vout gnd 1k
.ends
.subckt mystery a b
R1 a b 1k
.ends
J1 in b 0 jmod
M1 in b 0 0 mmod
B1 y 0 v=1
K1 L1 L2 0.9
.ic v(b)=1
.tran 1u 1m
.frobnicate
.control
run
.endc
.end
R99 after the end
"""


@pytest.fixture
def board(tmp_path: Path) -> Board:
    (tmp_path / "small.cir").write_text(TEXT)
    return read_spice(tmp_path / "small.cir")


def test_parts_are_what_a_hand_can_touch(board: Board) -> None:
    assert set(board.parts) == {"R12", "R4", "r5", "C1", "C2", "D1", "Q7", "U1", "X2", "RX", "J1", "M1"}
    assert board.parts["Q7"].pins == {"c": "in", "b": "b", "e": "out"}
    assert board.parts["D1"].pins == {"a": "0", "k": "b"}
    assert board.parts["U1"].pins == {"in": "in", "gnd": "0", "out": "reg"}
    assert board.parts["M1"].pins == {"d": "in", "g": "b", "s": "0", "b": "0"}


def test_first_spelling_of_a_net_counts(board: Board) -> None:
    assert board.parts["R12"].pins["2"] == board.parts["Q7"].pins["b"] == "b"


def test_inside_of_a_call(board: Board) -> None:
    inner = {name: element for name, element in board.elements.items() if name.startswith("U1.")}
    assert {"U1.Q3", "U1.R1", "U1.RO", "U1.Q3.RB"} == set(inner)
    assert inner["U1.R1"].nodes == ("in", "U1.n")
    assert all(element.part == "U1" for element in inner.values())
    assert "U1.n" not in board.points


def test_kinds_and_guesses(board: Board) -> None:
    kinds = {ref: part.kind for ref, part in board.parts.items()}
    assert kinds["C1"] == "electrolytic"
    assert kinds["C2"] == "capacitor"
    assert kinds["D1"] == "zener"
    assert kinds["U1"] == "regulator"
    assert kinds["X2"] == "chip"
    for ref in ("C1", "D1", "U1", "X2"):
        assert any(guess.startswith(f"{ref} is taken as ") for guess in board.guesses)
    assert not any(guess.startswith("C2 ") for guess in board.guesses)


def test_sources_are_no_parts(board: Board) -> None:
    assert {name for name, element in board.elements.items() if not element.part} == {"V1", "I1", "E1"}


def test_every_unused_line_is_listed_with_its_place(board: Board) -> None:
    warnings = "\n".join(board.warnings)
    for number, line in enumerate(TEXT.splitlines(), 1):
        word = line.split()[0]
        if word in ("J1", "M1", "B1", "K1", ".ic", ".tran", ".frobnicate", ".control", ".end"):
            assert f"small.cir line {number}: " in warnings, line
    assert "line 5: R4: '1M'" in warnings


def test_value_is_as_spice_says(board: Board) -> None:
    assert board.elements["R4"].value == 1e-3
    assert board.elements["R12"].value == 4000.0  # SPICE ignores what follows the suffix
    assert any("'4k7'" in warning and "4.7k" in warning for warning in board.warnings)
    assert board.elements["r5"].value == 2000.0


def test_junction_resistances_are_resistors_of_the_part(board: Board) -> None:
    series = board.elements["D1.RS"]
    assert (series.kind, series.value, series.part) == ("R", 2.0, "D1")
    assert series.nodes[0] == "0"
    assert board.elements["D1"].nodes[0] == series.nodes[1]
    assert not {"rs", "rb", "rc", "re"} & set(board.elements["Q7"].model)


def test_states(board: Board) -> None:
    assert [(state.name, state.powered) for state in board.states.values()] == [("off", False), ("on", True)]


def test_title_that_looks_like_an_element(tmp_path: Path) -> None:
    (tmp_path / "t.cir").write_text("R1 a 0 1k\nR2 a 0 1k\n")
    assert any("line 1" in warning and "title" in warning for warning in read_spice(tmp_path / "t.cir").warnings)


def test_include_and_library_section(tmp_path: Path) -> None:
    (tmp_path / "lib").mkdir()
    sections = ".lib one\n.model d1 d(is=1e-12)\n.endl\n.lib two\n.model d1 d(is=1e-9)\n.endl\n"
    (tmp_path / "lib" / "models.lib").write_text(sections)
    (tmp_path / "more.inc").write_text("R7 a 0 7\n")
    (tmp_path / "m.cir").write_text("t\n.lib lib/models.lib two\n.include 'more.inc'\nR1 a b 1\nD1 b 0 d1\n")
    board = read_spice(tmp_path / "m.cir")
    assert board.elements["D1"].model["is"] == 1e-9
    assert board.elements["R7"].value == 7


@pytest.mark.parametrize("name", ["../secret.txt", "/etc/passwd", "..\\secret.txt"])
def test_no_file_outside_the_folder_is_read(tmp_path: Path, name: str) -> None:
    (tmp_path / "secret.txt").write_text("R1 a 0 1\n")
    folder = tmp_path / "board"
    folder.mkdir()
    (folder / "m.cir").write_text(f"t\n.include {name}\nR1 a 0 1\n")
    with pytest.raises(BadInput, match="below it"):
        read_spice(folder / "m.cir")


def test_includes_that_double_each_time_are_bounded(tmp_path: Path) -> None:
    for level in range(30):
        (tmp_path / f"i{level}.inc").write_text(f".include i{level + 1}.inc\n.include i{level + 1}.inc\n")
    (tmp_path / "i30.inc").write_text("")
    (tmp_path / "m.cir").write_text("t\n.include i0.inc\nR1 a 0 1\n")
    with pytest.raises(BadInput):
        read_spice(tmp_path / "m.cir")


def test_calls_that_multiply_are_bounded(tmp_path: Path) -> None:
    levels = ""
    for level in range(12):
        calls = "".join(f"X{call} a b s{level + 1}\n" for call in range(8))
        levels += f".subckt s{level} a b\n{calls}.ends\n"
    (tmp_path / "m.cir").write_text(f"t\n{levels}.subckt s12 a b\nR1 a b 1\n.ends\nX1 a 0 s0\n")
    with pytest.raises(BadInput, match="elements"):
        read_spice(tmp_path / "m.cir")
