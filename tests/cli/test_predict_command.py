"""`kilter predict` against Ohm's law."""

from __future__ import annotations

import pytest
from command_line import LADDER, Command, Ran

METER = 10e6
"""Input resistance of the multimeter in the instruments data. [ohm]"""


def tap(r2: float, r3: float) -> float:
    """Volts at the tap B, worked out by hand with the meter across it."""
    lower = 1.0 / (1.0 / r3 + 1.0 / METER)
    return 10.0 * lower / (10e3 + r2 + lower)


def mean_at(ran: Ran, point: str, side: str) -> float:
    rows = ran.json()["readings"]
    return float(next(one for one in rows if one["point"] == point and one["quantity"] == "voltage")[side]["mean"])


def test_volts_are_those_of_ohms_law(kilter: Command) -> None:
    """Mean over twenty tolerance samples of 5 % (two sigma): within 0.06 V of the nominal value."""
    ran = kilter("predict", LADDER, "--fault", "R3:open", "--state", "bench", "--json")
    assert mean_at(ran, "B", "healthy") == pytest.approx(tap(10e3, 10e3), abs=0.06)
    assert mean_at(ran, "B", "predicted") == pytest.approx(tap(10e3, 1e30), abs=0.06)


def test_faults_are_named_and_kept_apart(kilter: Command) -> None:
    ran = kilter("predict", LADDER, "--fault", "R3:open", "--fault", "r2:short", "--json", "--point", "A")
    found = ran.json()
    assert found["faults"] == [{"part": "R2", "mode": "short"}, {"part": "R3", "mode": "open"}]
    assert {one["point"] for one in found["readings"]} == {"A"}


def test_changed_shows_what_moves(kilter: Command) -> None:
    text = kilter("predict", LADDER, "--fault", "R3:open", "--state", "bench", "--changed").out
    assert "B" in text.split()
    assert "TOP" not in text.split(), "the plus terminal is held by the supply, whatever R3 does"


@pytest.mark.parametrize(
    ("fault", "allowed"),
    [("R3", "PART:MODE"), ("R9:open", "R1, R2, R3"), ("R3:bulged", "open"), ("R3:", "PART:MODE")],
)
def test_fault_that_there_is_not(kilter: Command, fault: str, allowed: str) -> None:
    ran = kilter("predict", LADDER, "--fault", fault)
    assert ran.code == 2
    assert allowed in ran.err


def test_two_modes_of_one_part_are_refused(kilter: Command) -> None:
    assert kilter("predict", LADDER, "--fault", "R3:open", "--fault", "R3:short").code == 2
