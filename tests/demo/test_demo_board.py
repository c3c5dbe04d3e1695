"""
The demonstration board: complete, and its circuit works when healthy.

Authorities: design values worked out by hand from Ohm's law, the divider rule and 26 mV per ampere of a junction (each
beside its check); ngspice for the operating point. Band of 5 V logic: common practice, no source.
"""

from __future__ import annotations

from itertools import combinations
from math import dist
from pathlib import Path

import numpy as np
import pytest

from kilter.circuit.board import Board
from kilter.circuit.check import check_board
from kilter.circuit.finding import WRONG
from kilter.importers.spice import read_spice
from kilter.measure.scales import from_scale
from kilter.parts.kinds import modes_of
from kilter.records.test import Test
from kilter.simulate.chain import usual_chain
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.ngspice import NgspiceWorker, net_voltages, spice_text
from kilter.simulate.ngspice.names import node_name

POWERED = ("bench", "reversed", "processor_out")
BOARD_MM = (220.0, 150.0)
CLEAR_MM = 5.0
"""Least distance between the middles of two parts, so that a finger can point at one."""


def healthy(worker: NgspiceWorker, board: Board, state: str = "bench") -> dict[str, float]:
    return net_voltages(worker, apply_faults(board, board.state(state), frozenset()))


class TestTheFiles:
    def test_nothing_wrong_is_found(self, board: Board) -> None:
        assert [finding for finding in check_board(board, modes_of) if finding.level == WRONG] == []

    def test_size(self, board: Board) -> None:
        assert 60 <= len(board.parts) <= 120
        assert 25 <= len([p for p in board.points.values() if p.reachable and p.position]) <= 45

    def test_every_kind_was_written_down(self, board: Board) -> None:
        assert [part.ref for part in board.parts.values() if part.kind in ("capacitor", "chip")] == []

    def test_every_part_and_point_has_its_place_on_the_board(self, board: Board) -> None:
        places = [p.position for p in (*board.parts.values(), *board.points.values()) if getattr(p, "reachable", True)]
        assert all(place is not None and all(0 < x < size for x, size in zip(place, BOARD_MM, strict=True))
                   for place in places)  # fmt: skip

    def test_no_two_parts_in_one_place(self, board: Board) -> None:
        pairs = combinations(board.parts.values(), 2)
        assert [(a.ref, b.ref) for a, b in pairs if dist(a.position or (), b.position or ()) < CLEAR_MM] == []

    def test_labels_lead_a_hand(self, board: Board) -> None:
        assert [point.name for point in board.points.values() if point.reachable and not point.label] == []

    def test_every_chip_has_its_supply_current_and_its_capacitor(self, board: Board) -> None:
        chips = [ref for ref in board.parts if ref.startswith("U") and ref != "U1"]
        assert all(f"R_{ref}.load" in board.elements for ref in chips)
        assert all(f"C{60 + int(ref[1:])}" in board.parts for ref in chips)

    @pytest.mark.ngspice
    def test_importer_and_writer_keep_the_netlist(self, worker: NgspiceWorker, folder: Path) -> None:
        """The file as ngspice itself reads it, against what we read and write; no chip draws current here."""
        own = worker.operating_point((folder / "board.cir").read_text("utf-8"))
        ours = net_voltages(worker, list(read_spice(folder / "board.cir").elements.values()))
        assert {net for net in ours if "." not in net} > {"raw", "v5", "v9", "rst", "out"}
        for net in ours:
            name = ("x" + net if "." in net else net).lower()
            assert net == "0" or ours[net] == pytest.approx(own[name], rel=1e-4, abs=1e-4)


@pytest.mark.ngspice
class TestHealthyCircuit:
    @pytest.mark.parametrize(
        ("net", "expected", "within"),
        [
            ("raw", 14.0 - 2 * 0.85, 0.02),  # two rectifier junctions of the bridge
            ("v5", 2.73 * (1 + 1.8 / 2.2), 0.02),  # reference times (R5 + R6) / R6
            ("v9", 10.0 - 0.70, 0.02),  # zener less one junction
            ("timing", 0.65 + (5.0 - 0.65) * 47 / (47 + 47), 0.03),  # R24 against R25 in series with a junction
            ("rst", 5.0, 0.02),  # Q23 saturated
            ("xi", 5.0 * 4.7 / (12 + 4.7), 0.03),  # the inverter's threshold, which R30 hardly moves
            ("base1", 9.3 * 33 / 133 - 5e-6 * 24.8e3, 0.02),  # divider less 1 mA / 200 in its 24.8 kohm
            ("coll1", 9.3 - 1.0e-3 * 3.3e3, 0.03),  # emitter current (base1 - 0.65) / 1.53 kohm, 1 mA
            ("emit2", 9.3 - 1.0e-3 * 3.3e3 + 0.64, 0.03),  # one junction above coll1
            ("out", 4.06 - 0.68, 0.05),  # one junction below coll2, itself 4.7 kohm times 0.97 mA less base current
            ("spk", 0.0, 1.0),  # C44 keeps direct voltage away
        ],
    )
    def test_design_values(self, worker: NgspiceWorker, board: Board, net: str, expected: float, within: float) -> None:
        assert healthy(worker, board)[net] == pytest.approx(expected, rel=within, abs=1e-3)

    def test_supply_current_is_what_the_parts_draw(self, worker: NgspiceWorker, board: Board) -> None:
        volts = healthy(worker, board)
        current = (volts["dcin"] - volts["jack"]) / board.elements["RJ1"].value
        chips = sum(volts["v5"] / e.value for e in board.elements.values() if e.name.endswith(".load"))
        nine = (volts["raw"] - volts["q1c"]) / 22 + (volts["raw"] - volts["zref"]) / 220
        lamp, bleeder, regulator = (volts["v5"] - volts["led"]) / 330, volts["raw"] / 2200, 0.012
        assert current == pytest.approx(chips + nine + lamp + bleeder + regulator, abs=0.015)

    @pytest.mark.parametrize("state", POWERED)
    def test_rails_are_in_their_bands(self, worker: NgspiceWorker, board: Board, state: str) -> None:
        volts = healthy(worker, board, state)
        assert [rail.name for rail in board.rails.values() if not rail.low < volts[rail.net] < rail.high] == []

    def test_the_bridge_takes_either_polarity(self, worker: NgspiceWorker, board: Board) -> None:
        assert healthy(worker, board, "reversed")["raw"] == pytest.approx(healthy(worker, board)["raw"], abs=1e-6)

    def test_amplifier_gain(self, worker: NgspiceWorker, board: Board) -> None:
        """
        Closed form: collector over emitter resistance, with 26 mV over the current added to the emitter's. The first
        stage has 3.3 kohm over 330 + 26 ohm, the second 4.7 kohm beside the follower's input over 2.7 kohm + 26 ohm.
        """
        phasors = worker.ac(spice_text(apply_faults(board, board.state("bench"), frozenset())), [1000.0])
        size = {net: abs(phasors[node_name(net)][0]) for net in ("base1", "coll1", "out", "spk")}
        follower = 120 * (26e-3 / 15e-3 + 220 * 120 / 340)
        second = 4700 * follower / (4700 + follower) / (2700 + 26)
        assert size["coll1"] / size["base1"] == pytest.approx(3300 / 356, rel=0.05)
        assert size["out"] / size["coll1"] == pytest.approx(second, rel=0.05)
        assert size["spk"] / size["out"] == pytest.approx(1.0, rel=0.01)  # C44 passes 1 kHz


class TestHealthyPrediction:
    @pytest.mark.parametrize("state", POWERED)
    def test_rails_hold_with_the_spread_of_healthy_parts(self, board: Board, state: str) -> None:
        """Three standard deviations either side stay inside each rail's band."""
        tests = [Test(name, "voltage", state) for name in board.rails]
        found = usual_chain(board).predict(board, board.state(state), [frozenset()], tests)
        for rail, mean, spread in zip(board.rails.values(), found.mean[0], found.spread[0], strict=True):
            assert rail.low < mean - 3 * spread
            assert mean + 3 * spread < rail.high
        assert found.unknown.max() == 0.0

    @pytest.mark.parametrize("state", ["bench", "reversed"])
    def test_every_block_works(self, board: Board, state: str) -> None:
        moving = ("clk", "phi", "c64k", "c1k", "abus", "dbus", "romsel", "ramsel", "iosel", "digits", "scan", "keybits",
                  "tone")  # fmt: skip
        wanted = {
            **{(point, "level"): "pulsing" for point in moving},
            ("rst", "level"): "high",
            ("picture", "picture"): "right",
            ("sound", "sound"): "right",
            ("pilot", "light"): "lit",
        }
        tests = [Test(point, key, state) for point, key in wanted]
        found = usual_chain(board).predict(board, board.state(state), [frozenset()], tests)
        told = [(words[int(np.argmax(p[0]))], p[0].max()) for words, p in (found.words[t] for t in range(len(tests)))]
        assert told == [(word, pytest.approx(1.0)) for word in wanted.values()]

    def test_divider_chain(self, board: Board) -> None:
        tests = [Test(point, "frequency", "bench") for point in ("clk", "phi", "c64k", "c1k", "tone")]
        found = usual_chain(board).predict(board, board.state("bench"), [frozenset()], tests)
        hertz = from_scale("frequency", found.mean[0])
        assert hertz == pytest.approx([4.096e6, 1.024e6, 64e3, 1e3, 1e3], rel=1e-4)

    def test_without_its_processor_only_the_computer_rests(self, board: Board) -> None:
        tests = [Test(point, "activity", "processor_out") for point in ("romsel", "digits", "phi", "tone")]
        found = usual_chain(board).predict(board, board.state("processor_out"), [frozenset()], tests)
        none = [dict(zip(words, p[0], strict=True))["none"] for words, p in (found.words[t] for t in range(4))]
        assert none == [1.0, 1.0, 0.0, 0.0]
