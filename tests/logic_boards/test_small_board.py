"""
A board of three chips with its inputs held: what explains the readings, against brute force.

Authority: the truth tables of NAND and of the inverter, written out here, with each pin stuck or open by hand. An open
input of such a family reads high, an open output floats: common practice, no source. Only faults that the brute force
understands are compared: stuck and open signal pins.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from kilter.circuit.board import GROUND, Board, Point, Rail, State
from kilter.parts.kinds import modes_of
from kilter.records.part import Part
from kilter.services.evidence_of import make_test
from kilter.simulate.logic.predictor import LogicPredictor

NAND = {"U1": [("1", "2", "3"), ("4", "5", "6"), ("9", "10", "8")], "U2": [("1", "2", "3"), ("4", "5", "6")]}
NOT = {"U3": [("1", "2"), ("3", "4")]}
PINS = {
    "U1": {"1": "A", "2": "B", "3": "P", "4": "B", "5": "C", "6": "Q", "9": "P", "10": "Q", "8": "R"},
    "U2": {"1": "R", "2": "A", "3": "S", "4": "P", "5": "R", "6": "T"},
    "U3": {"1": "S", "2": "V", "3": "T", "4": "W"},
}
SEEN = ("P", "Q", "R", "S", "T", "V", "W")


def board(levels: tuple[int, int, int]) -> Board:
    """Inputs A, B, C are tied by resistors."""
    parts = {
        ref: Part(ref, "logic", {"vcc": "+5V", "gnd": GROUND, **pins}, "74LS04" if ref == "U3" else "74LS00")
        for ref, pins in PINS.items()
    }
    for number, (net, level) in enumerate(zip("ABC", levels, strict=True), 1):
        parts[f"R{number}"] = Part(f"R{number}", "resistor", {"1": "+5V" if level else GROUND, "2": net}, "1k5", 1500.0)
    return Board(
        "small", parts, points={net: Point(net, net) for net in SEEN},
        rails={"+5V": Rail("+5V", "+5V", 5.0, 4.75, 5.25)}, states={"on": State("on", powered=True)},
    )  # fmt: skip


def by_hand(levels: tuple[int, int, int], fault: tuple[str, str] | None) -> dict[str, str]:
    """Every net as 'low', 'high' or 'floating'."""
    ref, word, pin = (fault[0], *fault[1].split(" ")) if fault else ("", "", "")
    net = dict(zip("ABC", levels, strict=True))
    floating = set()

    def reads(chip: str, number: str) -> int:
        if (chip, number) == (ref, pin):
            return {"stuck_low": 0, "stuck_high": 1, "open": 1}[word]
        return 1 if PINS[chip][number] in floating else net[PINS[chip][number]]

    gates = [(chip, inputs, out) for chip, rows in NAND.items() for *inputs, out in rows]
    gates += [(chip, [one], out) for chip, rows in NOT.items() for one, out in rows]
    for chip, inputs, out in gates:
        value = int(not all(reads(chip, number) for number in inputs))
        if (chip, out) == (ref, pin):
            value = {"stuck_low": 0, "stuck_high": 1, "open": 2}[word]
        if value == 2:
            floating.add(PINS[chip][out])
        net[PINS[chip][out]] = value
    return {name: ("low", "high", "floating")[net[name]] for name in SEEN}


def output(ref: str, pin: str) -> bool:
    return any(row[-1] == pin for row in (*NAND.get(ref, ()), *NOT.get(ref, ())))


@pytest.mark.parametrize("levels", list(product((0, 1), repeat=3)))
def test_every_stuck_or_open_pin_looks_as_worked_out_by_hand(levels: tuple[int, int, int]) -> None:
    made = board(levels)
    faults = [(ref, mode.key) for ref in PINS for mode in modes_of(made.parts[ref])
              if mode.key.split(" ")[0] in ("stuck_low", "stuck_high", "open") and mode.key[-1].isdigit()
              and (mode.key.startswith("open") or output(ref, mode.key.split(" ")[1]))]  # fmt: skip
    assert len(faults) == 19 + 2 * 7  # signal pins, and twice the outputs
    sets = [frozenset(), *(frozenset({fault}) for fault in faults)]
    tests = [make_test(made, net, "level", "on") for net in SEEN]
    found = LogicPredictor().predict(made, made.states["on"], sets, tests)
    for number, fault in enumerate([None, *faults]):
        shown = by_hand(levels, fault)
        for column, net in enumerate(SEEN):
            words, chances = found.words[column]
            assert words[int(np.argmax(chances[number]))] == shown[net], (fault, net)


def test_a_stuck_input_is_stuck_inside_or_pulls_its_net() -> None:
    made = board((1, 1, 1))
    tests = [make_test(made, net, "level", "on") for net in ("P", "R")]
    found = LogicPredictor().predict(made, made.states["on"], [frozenset({("U2", "stuck_high 4")})], tests)
    words, chances = found.words[0]
    assert chances[0, words.index("low")] == pytest.approx(0.5, abs=0.02)
    assert chances[0, words.index("high")] == pytest.approx(0.5, abs=0.02)
