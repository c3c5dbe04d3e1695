"""
Small signals against ngspice's `.ac`: phasors at every net, healthy and under every fault of every R, C and L.

Left out, because the engine has no such thing: junction capacitances. None of the netlists compared states any. Our
coil has a resistance of 1 milliohm (data key coil_ohm); the reference is given the same, in series.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from math import pi

import numpy as np
import pytest

from kilter.circuit.board import Board, Element, Point, State
from kilter.measure.scales import from_scale
from kilter.parts.kinds import modes_of
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.faults import apply_faults, changes
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.circuit.small_signal import small_signal
from kilter.simulate.circuit.sweep import moved, sweep
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.ngspice import NgspiceWorker
from kilter.simulate.ngspice.names import node_name
from kilter.simulate.ngspice.netlist_text import spice_text
from kilter.simulate.prediction import Hypothesis

pytestmark = pytest.mark.ngspice

ON = State("on", powered=True)
HEALTHY: Hypothesis = frozenset()
FREQUENCIES = (20.0, 796.0, 3e3, 455e3)
NAMES = ("audio", "filter", "statevariable", "ifstage")

RELATIVE, OF_INPUT, OF_LARGEST = 1e-3, 1e-6, 1e-9
"""Agreement asked; the last is what a blocked junction (1e-12 S by convention) passes of the largest signal."""

NOTHING_HOLDS = {
    (
        "audio",
        "R7:open",
        "emit2",
    ): "only blocked junctions of 1e-12 S are left there, which each engine shares out its way",
}


def _faults(board: Board) -> list[Hypothesis]:
    """Every fault of every part that is one R, C or L, as sets of one."""
    plain = {element.part for element in board.elements.values() if element.kind in "RCL" and "." not in element.name}
    return [frozenset({(ref, mode.key)}) for ref in sorted(plain) for mode in modes_of(board.parts[ref])]


def _reference(elements: Iterable[Element], floating: frozenset[str]) -> Iterator[Element]:
    """The elements with the coil's resistance, and a path to ground for nets that a fault left without one."""
    for element in elements:
        if element.kind != "L":
            yield element
            continue
        inside = f"{element.name}!"
        yield replace(element, nodes=(element.nodes[0], inside))
        yield Element(f"R_{inside}", "R", (inside, element.nodes[1]), engine_number("coil_ohm"))
    for net in sorted(floating):
        yield Element(f"R_{net}!float", "R", (net, "0"), engine_number("dangling_ohm"))


@pytest.mark.parametrize("name", NAMES)
def test_phasors_at_every_net(name: str, netlist: Callable[[str], Board], worker: NgspiceWorker) -> None:
    """Within 0.1 % above a millionth of the input, at four frequencies, healthy and under each R, C or L fault."""
    board = netlist(name)
    equations = write_equations(board, powered=True)
    assert not any(key.startswith(("c", "t")) for e in board.elements.values() for key in e.model), "a capacitance"
    nominal = sample_parameters(board, equations, 1)
    hypotheses = [HEALTHY, *_faults(board)]
    found = sweep(board, equations, ON, hypotheses, nominal, compiled=False)
    drive = max(element.ac for element in board.elements.values())
    compared, missed = 0, []
    for row, hypothesis in enumerate(hypotheses):
        reference = _reference(apply_faults(board, ON, hypothesis), found.floating[row])
        theirs = worker.ac(spice_text(reference), FREQUENCIES)
        parameters = moved(nominal, changes(board, equations, ON, hypothesis))
        fault = "".join(f"{ref}:{key}" for ref, key in hypothesis)
        for place, hertz in enumerate(FREQUENCIES):
            ours = small_signal(board, equations, parameters, found.volts[row], hertz)[:, 0]
            largest = max(abs(values[place]) for values in theirs.values())
            for net in equations.node_place.keys() - {"0"}:
                if "~" in net or (name, fault, net) in NOTHING_HOLDS:
                    continue
                wanted, got = theirs[node_name(net)][place], ours[equations.node_place[net]]
                compared += 1
                if not abs(got - wanted) <= RELATIVE * abs(wanted) + OF_INPUT * drive + OF_LARGEST * largest:
                    missed.append(f"{fault or 'healthy'} {net} {hertz:g} Hz: {got:.5g} {wanted:.5g}")
    assert compared > 1000
    assert not missed, "\n".join(missed)


def _low_pass(ohm: float = 1e3, farad: float = 1e-6) -> Board:
    """A generator of 1 V peak, one resistor, one capacitor; and a pad that hangs on a second resistor."""
    elements = [
        Element("V1", "V", ("in", "0"), 0.0, ac=1.0),
        Element("R1", "R", ("in", "out"), ohm, "R1"),
        Element("C1", "C", ("out", "0"), farad, "C1"),
        Element("R2", "R", ("in", "pad"), ohm, "R2"),
    ]
    parts = {
        "R1": Part("R1", "resistor", {"1": "in", "2": "out"}, number=ohm),
        "C1": Part("C1", "film", {"1": "out", "2": "0"}, number=farad),
        "R2": Part("R2", "resistor", {"1": "in", "2": "pad"}, number=ohm),
    }
    states = {
        "off": State("off", powered=False),
        "quiet": State("quiet", powered=True),
        "low": State("low", powered=True, hertz=10.0),
        "corner": State("corner", powered=True, hertz=1.0 / (2 * pi * ohm * farad)),
        "high": State("high", powered=True, hertz=20e3),
    }
    points = {net: Point(net, net) for net in ("in", "out", "pad")}
    return Board("low-pass", parts, {e.name: e for e in elements}, points, states=states)


def _shown(board: Board, state: str, hypotheses: list[Hypothesis], point: str, quantity: str) -> np.ndarray:
    """What an instrument would show on nominal boards, in the quantity's own unit, NaN where it is unknown."""
    found = CircuitPredictor(1).predict(board, board.states[state], hypotheses, [Test(point, quantity, state)])
    return np.where(found.unknown[:, 0] < 1.0, from_scale(quantity, found.mean[:, 0]), np.nan)


class TestThroughThePredictor:
    def test_rms_and_peak_to_peak_of_a_first_order_low_pass(self) -> None:
        """At its corner 1/sqrt 2 of 1 V peak: 0.5 V rms, 1.414 V peak to peak (closed form, 10 Mohm meter aside)."""
        board = _low_pass()
        assert _shown(board, "corner", [HEALTHY], "out", "ac_voltage")[0] == pytest.approx(0.5, rel=1e-3)
        assert _shown(board, "corner", [HEALTHY], "out", "signal")[0] == pytest.approx(2**0.5, rel=1e-3)
        assert _shown(board, "low", [HEALTHY], "out", "signal")[0] == pytest.approx(2.0, rel=5e-3)

    def test_faults_of_the_low_pass(self) -> None:
        """C open: all of the signal; C short (its resistance against R): next to none; R open: none."""
        board = _low_pass()
        short = next(mode for mode in modes_of(board.parts["C1"]) if mode.key == "short").circuit[0].amount
        faults = [frozenset({fault}) for fault in (("C1", "open"), ("C1", "short"), ("R1", "open"))]
        shown = _shown(board, "high", faults, "out", "signal")
        size = 1.0 / abs(1.0 + 1e3 * (1.0 / short + 2j * pi * 20e3 * 1e-6))
        assert shown == pytest.approx([2.0, 2.0 * size, 0.0], rel=1e-3, abs=2e-5)

    def test_a_pad_that_nothing_holds_shows_no_signal_and_is_no_error(self) -> None:
        """R2 open leaves the pad to the meter alone, which holds it at ground."""
        shown = _shown(_low_pass(), "low", [frozenset({("R2", "open")})], "pad", "signal")
        assert shown[0] == pytest.approx(0.0, abs=1e-9)

    def test_only_states_with_a_frequency_answer(self) -> None:
        """No frequency, no signal; nor is there one with the power off."""
        predictor, board = CircuitPredictor(1), _low_pass()
        answers = {s: predictor.answers(board, Test("out", "signal", s)) for s in board.states}
        assert answers == {"off": False, "quiet": False, "low": True, "corner": True, "high": True}

    @pytest.mark.parametrize("quantity", ["ac_voltage", "signal"])
    def test_audio_amplifier_against_ngspice(
        self, quantity: str, netlist: Callable[[str], Board], worker: NgspiceWorker
    ) -> None:
        """Nominal board at 1 kHz with the usual meter on the probed nets: within 0.1 % of ngspice."""
        plain = netlist("audio")
        nets = ("base1", "coll1", "coll2", "out", "jack")
        state = State("tone", powered=True, hertz=1e3)
        board = replace(plain, states={"tone": state}, points={net: Point(net, net) for net in nets})
        faults = [HEALTHY, frozenset({("C3", "open")}), frozenset({("R6", "high")}), frozenset({("C6", "low")})]
        tests = [Test(net, quantity, "tone") for net in nets]
        found = from_scale(quantity, CircuitPredictor(1).predict(board, state, faults, tests).mean)
        meters = [Element(f"R_m{net}", "R", (net, "0"), 10e6) for net in nets]
        factor = 0.5**0.5 if quantity == "ac_voltage" else 2.0
        for row, fault in enumerate(faults):
            theirs = worker.ac(spice_text([*apply_faults(board, state, fault), *meters]), [1e3])
            wanted = [factor * abs(theirs[node_name(net)][0]) for net in nets]
            assert found[row] == pytest.approx(wanted, rel=1e-3, abs=1e-6)

    def test_tolerances_spread_the_signal(self) -> None:
        """At the corner d ln|H| / d ln(RC) = -1/2: R 5 % and C 10 % (two sigma) give 0.5*hypot(2.5, 5) % of spread."""
        board = _low_pass()
        elements = dict(board.elements)
        elements["V1"] = replace(elements["V1"], tolerance=0.0)
        elements["R1"] = replace(elements["R1"], tolerance=0.05)
        elements["C1"] = replace(elements["C1"], tolerance=0.10)
        board = replace(board, elements=elements)
        test = Test("out", "signal", "corner")
        found = CircuitPredictor(400).predict(board, board.states["corner"], [HEALTHY], [test])
        assert found.spread[0, 0] == pytest.approx(0.5 * np.hypot(0.025, 0.05), rel=0.1)


def test_a_lane_without_a_small_signal_solution_is_unknown() -> None:
    """A net that nothing holds, put to the engine without a meter, gives no number."""
    board = _low_pass()
    equations = write_equations(board, powered=True)
    nominal = sample_parameters(board, equations, 1)
    opened = moved(nominal, changes(board, equations, ON, frozenset({("R2", "open")})))
    volts = np.zeros((equations.lu.size + 1, 1))
    answer = small_signal(board, equations, opened, volts, 1e3)
    assert np.isnan(answer).all()
