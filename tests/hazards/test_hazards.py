"""Hazards by kind, part, word and figure; a doubtful chassis keeps powered tests back."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kilter.circuit.board import Board, Rail
from kilter.cli.main import run
from kilter.measure.errors import BadInput
from kilter.records.history import History, Label
from kilter.records.part import Part
from kilter.safety.hazards import chassis_in_doubt, hazards
from kilter.wiring.loading import load_board

SET = """kilter = 1
board = "Table set"
netlist = "set.cir"
[object]
kinds = ["valve radio"]
{chassis}
[rails.B]
net = "b"
nominal = "200 V"
low = "180 V"
high = "220 V"
[points.B]
net = "b"
[states.off]
powered = false
[states.on]
powered = true
"""
CIRCUIT = "set\nV1 b 0 200\nR1 b c 10k\nR2 c 0 10k\nC1 b 0 47u\n.op\n.end\n"


def keys(board: Board) -> set[str]:
    return {one.key for one in hazards(board)}


def file(folder: Path, chassis: str = "") -> str:
    (folder / "set.cir").write_text(CIRCUIT)
    (folder / "set.toml").write_text(SET.format(chassis=chassis))
    return str(folder / "set.toml")


@pytest.mark.parametrize(
    ("board", "expected"),
    [
        (Board("x", kinds=("television",)), {"mains", "hot_chassis", "stored_charge", "picture_tube"}),
        (Board("x", kinds=("home computer",)), set()),
        (Board("x", {"BT1": Part("BT1", "battery", {})}), {"battery_leak"}),
        (Board("x", {"BT1": Part("BT1", "battery", {}, "CR2032")}), {"battery_leak", "lithium"}),
        (Board("x", {"D1": Part("D1", "bridge", {}, notes=("selenium stack",))}), {"selenium"}),
        (Board("x", {"C1": Part("C1", "paper", {})}), {"pcb_oil"}),
        (Board("x", remarks=("Heater board of asbestos paper",)), {"asbestos"}),
        (Board("x", history=History((Label("V1", "", 0.3, "hot chassis, take care"),))), {"hot_chassis"}),
    ],
)  # fmt: skip
def test_what_brings_hazards_up(board: Board, expected: set[str]) -> None:
    """Trade practice; the list of kinds is read-through of public repair notes, see the data file."""
    assert keys(board) - {"solder_fume"} == expected


def test_stored_energy_and_touch_voltage() -> None:
    """
    E = C V^2 / 2 by hand: 100 uF at 325 V holds 5.28 J, 2200 uF at 16 V 0.28 J; above 42.4 V is more than touch.

    The limit is that of IEC 60335-1 for accessible parts, as quoted second-hand.
    """
    high = Board("x", {"C1": Part("C1", "electrolytic", {"1": "b", "2": "0"}, number=100e-6)},
                 rails={"B": Rail("B", "b", 325, 300, 325)})  # fmt: skip
    found = {one.key: one for one in hazards(high)}
    assert "5.3 J" in found["stored_charge"].because[0]
    assert "high_voltage" in found
    low = Board("x", {"C1": Part("C1", "electrolytic", {"1": "b", "2": "0"}, number=2200e-6)},
                rails={"B": Rail("B", "b", 12, 9, 16)})  # fmt: skip
    assert keys(low) == {"solder_fume"}


@pytest.mark.parametrize(("said", "doubt"), [("", True), ('chassis = "unknown"', True), ('chassis = "isolated"', False),
                                             ('chassis = "live"', False)])  # fmt: skip
def test_unknown_chassis_keeps_powered_tests_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], said: str, doubt: bool
) -> None:
    path = file(tmp_path, said)
    assert chassis_in_doubt(load_board(path)) is doubt
    readings = tmp_path / "readings.csv"
    readings.write_text("point,quantity,value,state\nB,resistance,20k,off\n")
    asked = ["diagnose", path, "--readings", str(readings), "--power-checks-passed"]
    run([*asked, "--json"])
    told = json.loads(capsys.readouterr().out)
    assert any(one["state"] == "on" for one in told["next_tests"]) is not doubt
    run(asked)
    assert ("what the chassis is joined to is not known" in " ".join(capsys.readouterr().out.split())) is doubt


def test_live_chassis_is_a_hazard_and_an_isolated_one_is_not(tmp_path: Path) -> None:
    assert "hot_chassis" in keys(load_board(file(tmp_path, 'chassis = "live"')))
    assert "hot_chassis" not in keys(load_board(file(tmp_path, 'chassis = "isolated"')))


@pytest.mark.parametrize("said", ['chassis = "fine"', 'kinds2 = "x"', "remarks = 3"])
def test_bad_words_about_the_object(tmp_path: Path, said: str) -> None:
    with pytest.raises(BadInput):
        load_board(file(tmp_path, said))


def test_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["hazards", file(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "may be there all the same" in " ".join(said.split())
    assert "Chassis that may be live" in said
    assert "is safe" not in said.lower()
    assert run(["hazards", file(tmp_path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["chassis_in_doubt"] is True
