"""
Faults without a change of the circuit: what they may move is doubtful, the rest is not.

The expectation is the definition of such a fault in data/block_kinds.toml ('anything may come out') and the drawing.
"""

from __future__ import annotations

from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.load import load_board
from kilter.records.test import Test
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.circuit.unmodelled import moved_by

NETLIST = """follower with a load, beside a divider that has nothing to do with it
VP vplus 0 12
VN vminus 0 -12
R1 vplus tap 10k
R2 tap 0 10k
R3 vplus in 10k
R4 in 0 10k
XU1 in out vplus vminus out opamp
R5 out after 1k
R6 after 0 10k
.subckt opamp p n vp vm o
E1 x 0 p n 1e5
R9 x o 75
.ends
.end
"""


def test_a_wrong_amplifier_makes_its_surroundings_doubtful_and_nothing_else(tmp_path: Path) -> None:
    """'Gain or offset wrong' may show anything at its output and inputs; a divider on the rails is as ever."""
    board = _board(tmp_path)
    tests = [Test(point=net, quantity="voltage", state="on") for net in ("tap", "out", "after")]
    predicted = CircuitPredictor(samples=3).predict(
        board, board.states["on"], [frozenset(), frozenset({("U1", "wrong")})], tests
    )
    assert predicted.unknown.tolist() == [[0.0, 0.0, 0.0], [0.0, 1.0, 1.0]]


def test_supplies_are_not_moved(tmp_path: Path) -> None:
    """Rails, ground and outside sources end the reach of a part."""
    assert {"out", "after"} <= moved_by(_board(tmp_path), "U1")
    assert not {"vplus", "vminus", "0", "tap"} & moved_by(_board(tmp_path), "U1")


def _board(folder: Path) -> Board:
    (folder / "amp.cir").write_text(NETLIST)
    (folder / "board.toml").write_text(
        'kilter = 1\nboard = "follower"\nnetlist = "amp.cir"\n[states.on]\npowered = true\n[parts.U1]\nkind = "opamp"\n'
    )
    return load_board(folder / "board.toml")
