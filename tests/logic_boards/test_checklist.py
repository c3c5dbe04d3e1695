"""The checklist of a processor: its order, its pins, what stands behind them, bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kilter.circuit.board import Board
from kilter.cli.main import run
from kilter.measure.errors import BadInput
from kilter.parts.catalogue import catalogue_types
from kilter.services.pin_checklist import pin_checklists

NET = str(Path(__file__).parent / "data" / "terminal.net")
ORDER = ["supply", "ground", "clock", "reset", "ready", "interrupt", "strobe", "address", "data"]
"""Supply before clock, clock before reset, reset before activity: common practice, no source."""


def test_every_pin_once_and_in_order(terminal: Board) -> None:
    (found,) = pin_checklists(terminal)
    assert found.part == "U1"
    assert list(dict.fromkeys(check.group for check in found.checks)) == ORDER
    pins = [check.pin for check in found.checks]
    assert sorted(pins, key=int) == [pin.number for pin in catalogue_types()["Z80"].pins.values() if pin.role != "none"]
    assert len(set(pins)) == len(pins)


def test_what_the_board_itself_says(terminal: Board) -> None:
    (found,) = pin_checklists(terminal)
    by_name = {check.name: check for check in found.checks}
    assert by_name["CLK"].word == "pulsing"
    assert by_name["CLK"].behind == ("U3.8",)  # read off the description of the board
    assert by_name["/RESET"].word == "high"
    assert by_name["/WAIT"].behind == ("R2",)
    assert by_name["/NMI"].word == "high"
    assert by_name["VCC"].expect == "4.75 to 5.25 V"
    assert by_name["/HALT"].expect == "not connected on this board"
    assert any("safe" in caution for caution in found.cautions)


def test_any_chip_may_be_asked_for(controller: Board) -> None:
    (found,) = pin_checklists(controller, ["U8"])
    assert found.type == "74138"
    assert {check.pin for check in found.checks} >= {"8", "16", "1"}


def test_what_cannot_be_listed(terminal: Board) -> None:
    with pytest.raises(BadInput, match="the part 'U99'"):
        pin_checklists(terminal, ["U99"])
    with pytest.raises(BadInput, match="no part that the catalogue knows as a processor"):
        pin_checklists(Board("empty"))


def test_the_command_prints_text_and_plain_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["checklist", NET]) == 0
    text = capsys.readouterr().out
    assert text.index("CLOCK") < text.index("RESET:") < text.index("ADDRESS")
    assert run(["checklist", NET, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["checklists"][0]["part"] == "U1"
    assert run(["checklist", NET, "--part", "R1"]) == 2
    assert "Cannot make a checklist" in capsys.readouterr().err
