"""S-expression netlists: pins, kinds, overbars and ground; rules met in exported netlists of both versions."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.circuit.board import Board
from kilter.importers.load import load_board
from kilter.importers.sexpr import read_form

OLD = r"""(export (version D)
  (design (source C:\boards\old|board.sch) (sheet (number 1) (title_block (title "Old board"))))
  (components
    (comp (ref R1) (value 4k7) (footprint x:R) (libsource (lib device) (part R)))
    (comp (ref D1) (value 1N4148) (libsource (lib device) (part D)))
    (comp (ref Q1) (value BC547) (libsource (lib device) (part Q_NPN)))
    (comp (ref U1) (value 74LS00) (libsource (lib d) (part 74LS00)))
    (comp (ref U2) (value LM7805) (libsource (lib d) (part LM7805_TO220)))
    (comp (ref C1) (value 47uF) (footprint CP_Radial))
    (comp (ref R9) (value DNP))
    (comp (ref H1) (value hole))
    (comp (ref #PWR01) (value GND)))
  (nets
    (net (code 1) (name GND) (node (ref R1) (pin 1)) (node (ref D1) (pin 1) (pinfunction K))
      (node (ref Q1) (pin 3) (pinfunction E)) (node (ref U1) (pin 7) (pinfunction GND)) (node (ref C1) (pin 2))
      (node (ref U2) (pin 2) (pinfunction GND)) (node (ref #PWR01) (pin 1)))
    (net (code 2) (name /~{RESET}) (node (ref R1) (pin 2)) (node (ref D1) (pin 2) (pinfunction A))
      (node (ref Q1) (pin 1) (pinfunction C)) (node (ref U1) (pin 10)) (node (ref U1) (pin 9)))
    (net (code 3) (name "Net-(C1-Pad1)") (node (ref U2) (pin 1) (pinfunction VI)) (node (ref C1) (pin 1))
      (node (ref R9) (pin 1)))
    (net (code 4) (name VCC) (node (ref U2) (pin 3) (pinfunction VO)) (node (ref U1) (pin 14) (pinfunction VCC))
      (node (ref R9) (pin 2)) (node (ref Q1) (pin 2) (pinfunction B)))))
"""


@pytest.fixture(params=["D", "E"])
def board(tmp_path: Path, request: pytest.FixtureRequest) -> Board:
    """The same board as version D writes it, and with every word in quotes as version E does."""
    text = OLD if request.param == "D" else quoted(OLD).replace('(version "D")', '(version "E")')
    (tmp_path / "b.net").write_text(text)
    return load_board(tmp_path / "b.net")


def quoted(text: str) -> str:
    """The text with all words but the names of lists in quotes."""
    form = read_form(text, "b.net")

    def written(one: object) -> str:
        if isinstance(one, str):
            return '"' + one.replace("\\", "\\\\").replace('"', '\\"') + '"'
        assert isinstance(one, list)
        return "(" + " ".join([str(one[0]), *map(written, one[1:])]) + ")"

    return written(form)


def test_pins_have_the_names_of_their_kind(board: Board) -> None:
    assert board.parts["D1"].pins == {"a": "~RESET", "k": "0"}
    assert list(board.parts["Q1"].pins) == ["c", "b", "e"]
    assert board.parts["U2"].pins == {"in": "Net-(C1-Pad1)", "gnd": "0", "out": "VCC"}
    assert board.parts["R1"].pins == {"1": "0", "2": "~RESET"}


def test_other_pins_keep_their_numbers(board: Board) -> None:
    assert list(board.parts["U1"].pins) == ["vcc", "gnd", "9", "10"]


def test_kinds_are_guessed_and_listed(board: Board) -> None:
    kinds = {ref: part.kind for ref, part in board.parts.items()}
    assert kinds == {"R1": "resistor", "D1": "diode", "Q1": "transistor", "U1": "logic", "U2": "regulator",
                     "C1": "electrolytic", "R9": "resistor"}  # fmt: skip
    for ref in kinds:
        assert any(guess.startswith(f"{ref} is taken as ") for guess in board.guesses)


def test_values(board: Board) -> None:
    assert board.parts["R1"].number == 4700.0
    assert board.parts["C1"].number == pytest.approx(47e-6)
    assert board.parts["R9"].number is None
    assert any("'DNP'" in warning for warning in board.warnings)


def test_parts_without_pins_and_power_symbols_are_left_out(board: Board) -> None:
    assert "H1" not in board.parts
    assert any("H1" in warning for warning in board.warnings)
    assert not any("PWR" in ref for ref in board.parts)


def test_points_and_title(board: Board) -> None:
    assert board.name == "Old board"
    assert set(board.points) == {"~RESET", "Net-(C1-Pad1)", "VCC"}


def test_another_name_for_ground_is_a_guess_and_none_at_all_a_warning(tmp_path: Path) -> None:
    (tmp_path / "b.net").write_text(OLD.replace("(name GND)", "(name VSS)"))
    assert any("VSS is taken as ground" in guess for guess in load_board(tmp_path / "b.net").guesses)
    (tmp_path / "b.net").write_text(OLD.replace("(name GND)", "(name X17)"))
    warnings = load_board(tmp_path / "b.net").warnings
    assert any("No net is named as ground; X17 is taken" in warning for warning in warnings)
