"""`kilter diagnose`: its text, its machine interface and its exit codes, on a board that Ohm's law settles."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from command_line import FAULTY, LADDER, Command

ANSWER = {"suspects", "ties", "not_in_model", "next_tests", "unexplained", "visited_mass", "fallback_lanes"}
SUSPECT = {"part", "probability", "modes", "because"}
TEST = {"point", "quantity", "state", "bits", "minutes", "grade", "risk"}


def test_open_resistor_is_found(kilter: Command) -> None:
    """Ten volts at both taps of the ladder: by Ohm's law no current flows, so only R3 open does it alone."""
    found = kilter("diagnose", LADDER, "--readings", FAULTY, "--json").json()
    first = found["suspects"][0]
    assert (first["part"], first["modes"][0]["mode"]) == ("R3", "open")
    assert first["probability"] > 0.95
    assert sum(mode["probability"] for mode in first["modes"]) == pytest.approx(first["probability"])


def test_machine_interface_has_exactly_its_keys(kilter: Command) -> None:
    ran = kilter("diagnose", LADDER, "--readings", FAULTY, "--json", "--works")
    found = ran.json()
    assert ran.code == 0
    assert set(found) == ANSWER
    assert found["suspects"]
    assert all(set(one) == SUSPECT for one in found["suspects"])
    assert all(set(mode) == {"mode", "probability"} for one in found["suspects"] for mode in one["modes"])
    assert found["next_tests"]
    assert all(set(one) == TEST for one in found["next_tests"])
    assert 0.0 <= found["not_in_model"] <= 1.0
    assert 0.0 <= found["visited_mass"] <= 1.0


def test_text_says_what_json_says(kilter: Command) -> None:
    text = kilter("diagnose", LADDER, "--readings", FAULTY, "--works").out
    assert re.search(r"R3 +#{20} +over 99\.9 %  fixed resistor: open circuit", text)
    assert "between R2 and R3" in text, "a test says where the probe goes"
    assert "B voltage read 10.00" in text
    assert "not in the model" in text
    assert re.search(r"\bsafe\b", text) is None


def test_no_powered_test_before_the_checks(kilter: Command, tmp_path: Path) -> None:
    readings = tmp_path / "cold.csv"
    readings.write_text("point,value,instrument\nA,20 kohm,dmm\n")
    before = kilter("diagnose", LADDER, "--readings", str(readings), "--json").json()["next_tests"]
    after = kilter("diagnose", LADDER, "--readings", str(readings), "--json", "--power-checks-passed").json()[
        "next_tests"
    ]
    assert {one["state"] for one in before} == {"off"}
    assert "bench" in {one["state"] for one in after}
    assert "--power-checks-passed" in kilter("diagnose", LADDER, "--readings", str(readings)).out


def test_only_instruments_at_hand(kilter: Command) -> None:
    asked = kilter("diagnose", LADDER, "--readings", FAULTY, "--json", "--instruments", "eye, ear").json()["next_tests"]
    assert {one["quantity"] for one in asked} <= {"look", "light", "picture", "sound"}


def test_readings_that_nothing_explains_leave_code_3(kilter: Command, tmp_path: Path) -> None:
    """By Kirchhoff's laws no resistor fault can put a tap of the ladder below ground."""
    readings = tmp_path / "strange.csv"
    readings.write_text("point,value,instrument,state\nA,-3 V,dmm,bench\nB,-6 V,dmm,bench\nA,-3 V,scope,bench\n")
    ran = kilter("diagnose", LADDER, "--readings", str(readings), "--json")
    assert ran.code == 3
    assert "Unanswered:" in ran.err
    assert ran.json()["not_in_model"] > 0.5


@pytest.mark.parametrize("flags", [["--faults", "1"], ["--thorough"]])
def test_how_far_to_search(kilter: Command, flags: list[str]) -> None:
    assert kilter("diagnose", LADDER, "--readings", FAULTY, *flags).code == 0


def test_single_faults_only_leave_no_pair_of_suspects(kilter: Command) -> None:
    found = kilter("diagnose", LADDER, "--readings", FAULTY, "--faults", "1", "--json").json()
    assert sum(one["probability"] for one in found["suspects"]) <= 1.0 + 1e-9
