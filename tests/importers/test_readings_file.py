"""Readings files: what docs/board-file.md says may be left out, and how people write values."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from kilter.circuit.board import Board
from kilter.circuit.places import with_points_across
from kilter.importers.load import load_board, load_readings
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instrument
from kilter.records.reading import Reading

BOARD = """kilter = 1
board = "Small"
netlist = "small.cir"
[points.TP1]
net = "out"
[points.TP2]
net = "in"
against = "out"
"""
NETLIST = "small\nV1 in 0 9\nR7 in out 1k\nC1 out 0 10u\nQ1 out b 0 qn\nRB in b 470k\n.model qn npn\n"


@pytest.fixture
def board(tmp_path: Path) -> Board:
    (tmp_path / "small.cir").write_text(NETLIST)
    (tmp_path / "board.toml").write_text(BOARD)
    return load_board(tmp_path)


def read(folder: Path, board: Board, text: str | bytes, name: str = "r.csv") -> tuple[Reading, ...]:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return load_readings(path, board)


def test_example_of_the_page(tmp_path: Path, board: Board) -> None:
    text = "point,quantity,value,uncertainty,instrument,state,note\nTP1,voltage,4.98 V,,dmm,on,\n"
    text += "out,level,pulsing,,logic probe,on,\nR7,resistance,4k7,,dmm,off,\nC1,look,bulged,,,off,\n"
    volts, level, ohms, look = read(tmp_path, board, text)
    assert (volts.point, volts.value, volts.state) == ("TP1", 4.98, "on")
    assert volts.uncertainty == instrument("dmm").standard_uncertainty("voltage", 4.98)
    assert (level.point, level.value, level.word, level.instrument) == ("TP1", None, "pulsing", "logic_probe")
    assert (ohms.point, ohms.value) == ("R7", 4700.0)
    assert (look.point, look.word, look.uncertainty) == ("C1", "bulged", 0.0)
    assert ohms.place == "r.csv line 4"


def test_what_is_left_out_is_inferred(tmp_path: Path, board: Board) -> None:
    text = "point,value\nTP1,4.98 V\nR7,4.7 kohm\nTP1,3.58 MHz\nTP1,pulsing\nC1,bulged\nC1,renewed\n"
    found = read(tmp_path, board, text)
    assert [one.quantity for one in found] == ["voltage", "resistance", "frequency", "level", "look", "done"]
    assert [one.state for one in found][:3] == ["on", "off", "on"]
    assert found[0].instrument == "dmm"
    assert "assumed" in found[0].note
    assert found[0].uncertainty > 0


@pytest.mark.parametrize(
    "text",
    ["point,quantity,value\nTP1,voltage,4.98 V\n", "point;quantity;value\nTP1;voltage;4,98 V\n",
     "point\tquantity\tvalue\nTP1\tvoltage\t4,98 V\n", "\ufeffpoint,quantity,value\r\nTP1,voltage,4.98 V\r\n",
     'Point, Value , Quantity\n# a comment\n\nTP1,"4,98 V",voltage\n'],
)  # fmt: skip
def test_spellings_of_one_reading(tmp_path: Path, board: Board, text: str) -> None:
    (one,) = read(tmp_path, board, text)
    assert (one.point, one.quantity, one.value) == ("TP1", "voltage", 4.98)


def test_other_encodings(tmp_path: Path, board: Board) -> None:
    for encoding in ("utf-16", "utf-8-sig", "cp1252"):
        (one,) = read(tmp_path, board, "point,value,note\nC1,10 µF,gewölbt\n".encode(encoding))
        assert one.value == pytest.approx(10e-6)
        assert one.note.startswith("gewölbt")


@pytest.mark.parametrize(
    ("value", "column", "expected"),
    [("4.98 V ± 0.02", "", 0.02), ("4.98(3) V", "", 0.03), ("4.98 V", "0.05", 0.05), ("4.98 V", "20 mV", 0.02),
     ("5 V", "1 %", 0.05)],
)  # fmt: skip
def test_uncertainty(tmp_path: Path, board: Board, value: str, column: str, expected: float) -> None:
    (one,) = read(tmp_path, board, f"point,value,uncertainty\nTP1,{value},{column}\n")
    assert one.uncertainty == pytest.approx(expected)


def test_over_limit(tmp_path: Path, board: Board) -> None:
    (one,) = read(tmp_path, board, "point,quantity,value,instrument\nR7,resistance,OL,dmm\n")
    assert one.value == math.inf


def test_places(tmp_path: Path, board: Board) -> None:
    found = read(tmp_path, board, "point,value\ntp1,1 V\nOUT,1 V\nQ1.c,1 V\nr7.2,1 V\nb,0.6 V\nTP2,5 V\n")
    assert [one.point for one in found] == ["TP1", "TP1", "TP1", "TP1", "b", "TP2"]


def test_supply_current_and_across_a_part(tmp_path: Path, board: Board) -> None:
    current, ohms = read(tmp_path, board, "point,value\nv1,35 mA\nR7,1 kohm\n")
    assert (current.point, current.quantity, current.state) == ("V1", "current", "on")
    added = with_points_across(board, [current.point, ohms.point]).points
    assert set(added) - set(board.points) == {"R7"}
    assert (added["R7"].net, added["R7"].against, added["R7"].reachable) == ("in", "out", False)


def test_a_pin_that_only_a_pair_touches_is_not_taken_for_ground_referenced(tmp_path: Path, board: Board) -> None:
    (one,) = read(tmp_path, board, "point,value\nin,9 V\n")
    assert one.point == "in"
    assert board.points["in"].against == "0"


def test_done_lines_keep_their_order(tmp_path: Path, board: Board) -> None:
    text = "point,quantity,value\nTP1,voltage,3 V\nC1,done,renewed\nq1.B,done,lifted\nTP1,voltage,5 V\n"
    found = read(tmp_path, board, text)
    assert [one.point for one in found] == ["TP1", "C1", "Q1.b", "TP1"]
    assert [one.word for one in found] == ["", "renewed", "lifted", ""]


def test_toml_says_the_same_as_csv(tmp_path: Path, board: Board) -> None:
    (one,) = read(tmp_path, board, "point,quantity,value,doubtful,who\nTP1,voltage,4.98,yes,A. B.\n")
    text = '[[reading]]\npoint = "TP1"\nquantity = "voltage"\nvalue = 4.98\ndoubtful = true\nwho = "A. B."\n'
    (other,) = read(tmp_path, board, text, "r.toml")
    assert other.place == "r.toml reading number 1"
    assert replace(one, place="") == replace(other, place="")
    assert one.doubtful


def test_two_powered_states_must_be_told_apart(tmp_path: Path) -> None:
    (tmp_path / "small.cir").write_text(NETLIST)
    (tmp_path / "board.toml").write_text(BOARD + "[states.bench]\npowered = true\n[states.mains]\npowered = true\n")
    with pytest.raises(BadInput, match="bench, mains"):
        read(tmp_path, load_board(tmp_path), "point,value\nTP1,4.98 V\n")
