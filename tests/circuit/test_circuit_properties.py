"""
Laws that every circuit obeys, on circuits drawn at random: currents sum to nothing, causes add up where all is linear,
a network of resistors reads the same both ways; and a lane without an answer is never a number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kilter.circuit.board import GROUND, Board, Element, Point, State
from kilter.measure.scales import from_scale
from kilter.parts.kinds import modes_of
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.circuit.sweep import sweep
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.prediction import Fault, Hypothesis

ON, OFF = State("on", powered=True), State("off", powered=False)
HEALTHY: Hypothesis = frozenset()
NETS = ("0", "a", "b", "c", "d")

PAIRS = st.tuples(st.sampled_from(NETS), st.sampled_from(NETS)).filter(lambda pair: pair[0] != pair[1])
OHMS = st.floats(1.0, 1e6).map(lambda ohm: float(f"{ohm:.3g}"))
LADDER = [("0", "a"), ("a", "b"), ("b", "c"), ("c", "d")]
"""Resistors that are always there, so that every net has a way to ground."""


@st.composite
def _resistors(draw: st.DrawFn) -> list[Element]:
    rungs = [(pair, draw(OHMS)) for pair in LADDER]
    rungs += draw(st.lists(st.tuples(PAIRS, OHMS), max_size=6))
    return [Element(f"R{i}", "R", pair, ohm, f"R{i}") for i, (pair, ohm) in enumerate(rungs)]


@st.composite
def _linear(draw: st.DrawFn) -> list[Element]:
    """Resistors, current sources, and at times a voltage source and a transconductance."""
    elements = draw(_resistors())
    for number, (pair, amps) in enumerate(
        draw(st.lists(st.tuples(PAIRS, st.floats(-0.1, 0.1)), min_size=1, max_size=3))
    ):
        elements.append(Element(f"I{number}", "I", pair, amps))
    if draw(st.booleans()):
        elements.append(Element("V0", "V", ("a", "0"), draw(st.floats(-20.0, 20.0))))
    if draw(st.booleans()):
        elements.append(Element("G0", "G", (*draw(PAIRS), *draw(PAIRS)), draw(st.floats(-1e-7, 1e-7))))
    return elements


def _board(elements: list[Element]) -> Board:
    parts = {
        e.part: Part(e.part, "resistor", {"1": e.nodes[0], "2": e.nodes[1]}, number=e.value) for e in elements if e.part
    }
    return Board("random", parts, {e.name: e for e in elements}, states={"on": ON, "off": OFF})


def _volts(elements: list[Element], faults: Hypothesis = HEALTHY) -> dict[str, float]:
    """Volts of every net, and the current of the voltage source."""
    board = _board(elements)
    equations = write_equations(board, powered=True)
    found = sweep(board, equations, ON, [faults], sample_parameters(board, equations, 1), compiled=False)
    if faults:
        assume(bool(found.settled.all()) and not found.floating[0])
    assert found.settled.all()
    volts = {net: float(found.volts[0, place, 0]) for net, place in equations.node_place.items()}
    return volts | {name: float(found.volts[0, place, 0]) for name, place in equations.branch_place.items()}


@settings(max_examples=60, deadline=None)
@given(_linear(), st.integers(0, 3), st.sampled_from(["open", "high", "short", "low"]))
def test_currents_at_every_net_sum_to_nothing(elements: list[Element], number: int, mode: str) -> None:
    """
    Healthy and with one faulty resistor, put back into Ohm's law element by element: 1e-6 of what flows + 1 pA, and
    what rounding to 16 digits makes of a small difference of large voltages.
    """
    for faults in (HEALTHY, frozenset({(f"R{number}", mode)})):
        volts = _volts(elements, faults)
        left, flow = dict.fromkeys(NETS, 0.0), dict.fromkeys(NETS, 1e-6)
        for element in apply_faults(_board(elements), ON, faults):
            a, b = element.nodes[:2]
            current = _current(element, volts)
            for net, sign in ((a, 1.0), (b, -1.0)):
                if net in left:
                    left[net] += sign * current
                    flow[net] += abs(current)
                    if element.kind == "R":
                        flow[net] += 1e-8 * max(map(abs, volts.values())) / element.value
        assert all(abs(left[net]) <= 1e-6 * flow[net] for net in NETS if net != GROUND)


def _current(element: Element, volts: dict[str, float]) -> float:
    """From the first net through the element to the second; a resistor to a net of a lifted pin carries none."""
    if element.kind == "R":
        if not set(element.nodes) <= volts.keys():
            return 0.0
        return (volts[element.nodes[0]] - volts[element.nodes[1]]) / element.value
    if element.kind == "G":
        return element.value * (volts[element.nodes[2]] - volts[element.nodes[3]])
    return volts["V0"] if element.kind == "V" else element.value


@settings(max_examples=60, deadline=None)
@given(_linear())
def test_superposition(elements: list[Element]) -> None:
    """The volts with all sources are the sum of those with each alone, the others at zero."""
    sources = [element for element in elements if element.kind in "IV"]
    together = _volts(elements)
    total = dict.fromkeys(together, 0.0)
    for source in sources:
        alone = [replace(e, value=0.0) if e in sources and e is not source else e for e in elements]
        for net, volts in _volts(alone).items():
            total[net] += volts
    size = max(map(abs, together.values())) + sum(abs(e.value) for e in sources)
    assert all(abs(total[net] - together[net]) <= 1e-7 * size + 1e-9 for net in together)


@settings(max_examples=40, deadline=None)
@given(_linear(), st.floats(0.1, 10.0))
def test_scaling_all_sources_scales_all_volts(elements: list[Element], factor: float) -> None:
    """Twice the cause, twice the effect."""
    scaled = [replace(e, value=e.value * factor) if e.kind in "IV" else e for e in elements]
    before, after = _volts(elements), _volts(scaled)
    size = max(map(abs, before.values()))
    assert all(abs(after[net] - factor * before[net]) <= 1e-7 * factor * size + 1e-9 for net in before)


@settings(max_examples=30, deadline=None)
@given(_resistors(), PAIRS)
def test_resistance_is_the_same_both_ways_and_that_of_the_laplacian(
    elements: list[Element], pair: tuple[str, str]
) -> None:
    """Effective resistance from the pseudo-inverse of the conductance matrix (numpy), with each lead on either net."""
    board = replace(_board(elements), points={"p": Point("p", *pair), "q": Point("q", *pair[::-1])})
    laplacian = np.zeros((len(NETS), len(NETS)))
    for element in elements:
        a, b = (NETS.index(net) for net in element.nodes)
        laplacian[[a, b], [a, b]] += 1.0 / element.value
        laplacian[[a, b], [b, a]] -= 1.0 / element.value
    ends = np.zeros(len(NETS))
    ends[[NETS.index(net) for net in pair]] = 1.0, -1.0
    wanted = float(ends @ np.linalg.pinv(laplacian, rcond=1e-12) @ ends)
    tests = [Test(point, "resistance", "off", "low_voltage_ohms") for point in ("p", "q")]
    found = from_scale("resistance", CircuitPredictor(1).predict(board, OFF, [HEALTHY], tests).mean[0])
    assert found == pytest.approx([wanted, wanted], rel=1e-3, abs=1e-3)


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_no_lane_without_an_answer_becomes_a_number(netlist: Callable[[str], Board], data: st.DataObject) -> None:
    """
    Up to three faults anywhere in a netlist: each prediction is finite in its mean; each lane that did not settle is
    counted, and a test none of whose lanes settled could be anything.
    """
    plain = netlist(data.draw(st.sampled_from(["audio", "reset", "supply"])))
    every = [(ref, mode.key) for ref, part in plain.parts.items() for mode in modes_of(part) if mode.circuit]
    chosen: list[Fault] = data.draw(st.lists(st.sampled_from(every), max_size=3, unique_by=lambda fault: fault[0]))
    nets = sorted({net for e in plain.elements.values() for net in e.nodes} - {GROUND})
    board = replace(plain, points={net: Point(net, net) for net in nets}, states={"on": ON})
    tests = [Test(net, "voltage", "on") for net in nets]
    found = CircuitPredictor(3).predict(board, ON, [frozenset(chosen)], tests)
    assert np.isfinite(found.mean).all()
    assert np.isfinite(found.spread).all()
    assert ((found.unknown >= 0.0) & (found.unknown <= 1.0)).all()
    assert (found.unsettled > 0) == bool((found.unknown > 0.0).any())


@given(st.floats(0.5, 50.0))
def test_shorts_across_a_source_give_the_current_that_ohms_law_says(source: float) -> None:
    """Two shorted resistors in series across a source: half its voltage between them, and amperes."""
    elements = [
        Element("V0", "V", ("a", "0"), source),
        Element("R0", "R", ("a", "b"), 1e3, "R0"),
        Element("R1", "R", ("b", "0"), 1e3, "R1"),
    ]
    shorts: Hypothesis = frozenset({("R0", "short"), ("R1", "short")})
    ohm = next(m for m in modes_of(_board(elements).parts["R0"]) if m.key == "short").circuit[0].amount
    volts = _volts(elements, shorts)
    assert volts["b"] == pytest.approx(source / 2, rel=1e-6)
    assert abs(volts["V0"]) == pytest.approx(source / 2 * (1.0 / ohm + 1e-3), rel=1e-6)
