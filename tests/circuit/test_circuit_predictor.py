"""The circuit predictor: what it answers, how meters load, currents, hum and doubt. Expected values in closed form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from kilter.circuit.board import Board, Element, Point, State
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instrument
from kilter.measure.scales import from_scale
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.prediction import Hypothesis, Prediction

HEALTHY: Hypothesis = frozenset()
ON, OFF = State("on", powered=True), State("off", powered=False)


def _high_ohms(*, ohm: float = 1e6, chip: bool = False) -> Board:
    """Ten volts halved by two large resistors; a third leads to a pad that nothing else touches."""
    elements = [
        Element("V1", "V", ("in", "0"), 10.0, tolerance=0.0),
        Element("R1", "R", ("in", "out"), ohm, "R1", tolerance=0.02),
        Element("R2", "R", ("out", "0"), ohm, "R2", tolerance=0.02),
        Element("R3", "R", ("out", "pad"), ohm, "R3", tolerance=0.02),
    ]
    parts = {
        ref: Part(ref, "resistor", {"1": a, "2": b}, number=ohm)
        for ref, a, b in (("R1", "in", "out"), ("R2", "out", "0"), ("R3", "out", "pad"))
    }
    if chip:
        parts["U1"] = Part("U1", "logic", {"vcc": "in", "gnd": "0", "3": "out"})
    points = {net: Point(net, net) for net in ("in", "out")} | {"across": Point("across", "in", "out")}
    return Board("high ohms", parts, {e.name: e for e in elements}, points, states={"on": ON, "off": OFF})


def _with_pad(board: Board) -> Board:
    return replace(board, points={**board.points, "pad": Point("pad", "pad")})


def _predict(board: Board, tests: list[Test], hypotheses: list[Hypothesis], samples: int = 1) -> Prediction:
    return CircuitPredictor(samples).predict(board, board.states[tests[0].state], hypotheses, tests)


class TestWhatItAnswers:
    @pytest.mark.parametrize(
        ("point", "quantity", "state", "answered"),
        [
            ("out", "voltage", "on", True),
            ("out", "voltage", "off", False),
            ("out", "resistance", "off", True),
            ("out", "resistance", "on", False),
            ("out", "diode", "off", True),
            ("V1", "current", "on", True),
            ("V1", "current", "off", False),
            ("R1", "current", "on", False),
            ("out", "signal", "on", False),
            ("out", "look", "on", False),
            ("nowhere", "voltage", "on", False),
            ("out", "voltage", "no state", False),
        ],
    )
    def test_quantity_and_state(self, point: str, quantity: str, state: str, answered: bool) -> None:
        """Volts and supply current with the power on; ohms and diode mode with it off; signals where there are any."""
        assert CircuitPredictor(1).answers(_high_ohms(), Test(point, quantity, state)) is answered

    def test_nothing_without_a_circuit(self) -> None:
        """A board of blocks has no volts."""
        board = replace(_high_ohms(), elements={})
        assert not CircuitPredictor(1).answers(board, Test("out", "voltage", "on"))

    def test_a_point_on_a_net_that_the_circuit_lacks(self) -> None:
        """Such as the signal pin of a chip."""
        board = replace(_high_ohms(), points={"clk": Point("clk", "clk")})
        assert not CircuitPredictor(1).answers(board, Test("clk", "voltage", "on"))


class TestMetersLoad:
    def test_a_light_meter(self) -> None:
        """10 Mohm beside 1 Mohm: 10 V * 0.909 / 1.909; the other meter, on the supply, changes nothing."""
        found = _predict(_high_ohms(), [Test("out", "voltage", "on", "dmm")], [HEALTHY])
        lower = 1.0 / (1e-6 + 1e-7)
        assert found.mean[0, 0] == pytest.approx(10.0 * lower / (lower + 1e6), rel=1e-6)

    def test_a_heavy_meter_loads_only_what_it_touches(self) -> None:
        """A moving-coil meter of 200 kohm at `out`; at `in` it moves nothing."""
        assert instrument("analogue_meter").loading_ohm(10.0) == 200e3
        tests = [Test("out", "voltage", "on", "analogue_meter"), Test("in", "voltage", "on", "analogue_meter")]
        found = _predict(_high_ohms(), tests, [HEALTHY])
        lower = 1.0 / (1e-6 + 1.0 / 200e3)
        assert found.mean[0, 0] == pytest.approx(10.0 * lower / (lower + 1e6), rel=1e-6)
        assert found.mean[0, 1] == pytest.approx(10.0, rel=1e-9)

    def test_current_of_a_supply_is_positive(self) -> None:
        """10 V across 2 Mohm and a meter of 10 Mohm across the supply itself; the soft net `out` carries none now."""
        found = _predict(_high_ohms(), [Test("V1", "current", "on")], [HEALTHY])
        assert from_scale("current", found.mean[0, 0]) == pytest.approx(10.0 / 2e6 + 1e-6, rel=1e-3)

    def test_soft_nets_are_read_one_at_a_time(self) -> None:
        """
        A ladder of three 1 Mohm steps to a 3 Mohm foot, 12 V. Closed form: each tap is read with its own meter alone,
        so 10 Mohm beside what hangs below it. Meters on all three taps at once would give 4.30 V at the lowest, not
        5.22 V.
        """
        nets = ("in", "a", "b", "c")
        steps = [(f"R{n}", (nets[n], nets[n + 1]), 1e6) for n in range(3)] + [("R3", ("c", "0"), 3e6)]
        board = Board(
            "ladder",
            parts={ref: Part(ref, "resistor", {"1": p, "2": q}) for ref, (p, q), _ in steps},
            elements={"V1": Element("V1", "V", ("in", "0"), 12.0)}
            | {ref: Element(ref, "R", pins, ohm, ref) for ref, pins, ohm in steps},
            points={net: Point(net, net) for net in nets},
            states={"on": State("on", powered=True)},
        )
        found = _predict(board, [Test(net, "voltage", "on", "dmm") for net in nets[1:]], [HEALTHY])
        for column, above in enumerate((1e6, 2e6, 3e6)):
            lower = 1.0 / (1.0 / (6e6 - above) + 1e-7)
            assert found.mean[0, column] == pytest.approx(12.0 * lower / (lower + above), rel=1e-6)


class TestHumAndDoubt:
    def test_a_net_that_nothing_holds_shows_hum(self) -> None:
        """R3 open leaves its pad floating: the reading has the spread of hum, around 0 V with a meter on it."""
        board, fault = _with_pad(_high_ohms(ohm=1e4)), frozenset({("R3", "open")})
        found = _predict(
            board, [Test("pad", "voltage", "on"), Test("out", "voltage", "on")], [HEALTHY, fault], samples=20
        )
        assert found.spread[1, 0] == pytest.approx(engine_number("floating_sd_v"), rel=0.15)
        assert found.mean[1, 0] == pytest.approx(0.0, abs=1e-6)
        assert found.spread[0, 0] < 0.1
        assert found.spread[1, 1] == pytest.approx(found.spread[0, 1], rel=0.05)

    def test_a_chip_that_no_netlist_shows_makes_ohms_doubtful(self) -> None:
        """On its own nets, and not in a powered state."""
        board = _high_ohms(chip=True)
        off = _predict(board, [Test("out", "resistance", "off")], [HEALTHY])
        assert off.unknown[0, 0] == engine_number("chip_doubt")
        assert _predict(board, [Test("out", "voltage", "on")], [HEALTHY]).unknown[0, 0] == 0.0
        assert _predict(_high_ohms(), [Test("out", "resistance", "off")], [HEALTHY]).unknown[0, 0] == 0.0

    def test_a_meter_that_applies_nothing_is_refused(self) -> None:
        """An oscilloscope reads no ohms."""
        with pytest.raises(BadInput, match="scope"):
            _predict(_high_ohms(), [Test("out", "resistance", "off", "scope")], [HEALTHY])

    def test_the_spread_of_ohms_is_never_less_than_boards_differ(self) -> None:
        """Tolerances of 0 still leave the least spread of the data, on the scale's logarithm."""
        board = _high_ohms(ohm=1e4)
        exact = {name: replace(e, tolerance=0.0) for name, e in board.elements.items()}
        found = _predict(replace(board, elements=exact), [Test("out", "resistance", "off")], [HEALTHY], samples=20)
        assert found.spread[0, 0] == pytest.approx(engine_number("dead_spread_ln"), rel=0.05)


def test_order_and_company_of_hypotheses_do_not_matter() -> None:
    """The same numbers, whoever asks for what else, and in which order."""
    board, faults = _high_ohms(ohm=1e4), [HEALTHY, frozenset({("R1", "high")}), frozenset({("R2", "open")})]
    tests = [Test("out", "voltage", "on"), Test("across", "voltage", "on")]
    together, predictor = _predict(board, tests, faults, samples=8), CircuitPredictor(8)
    for row in (2, 0, 1):
        alone = predictor.predict(board, ON, [faults[row]], tests[::-1])
        assert alone.mean[0, ::-1] == pytest.approx(together.mean[row], abs=1e-6)
        assert alone.spread[0, ::-1] == pytest.approx(together.spread[row], abs=1e-6)


def test_volts_between_nets_for_other_predictors() -> None:
    """NaN for a net that the circuit lacks; the supply's volts for one that it has."""
    found = CircuitPredictor(3).volts(_high_ohms(), ON, [HEALTHY], [("in", "0"), ("clk", "0")])
    assert found.shape == (1, 3, 2)
    assert found[0, :, 0] == pytest.approx([10.0] * 3)
    assert np.isnan(found[0, :, 1]).all()
