"""Fault sizes: every tolerance sample has a size of its own, the first the typical one."""

import numpy as np
import pytest

from kilter.circuit.board import Board, Element, Point, State
from kilter.measure.errors import NotAvailable
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.faults import apply_changes, circuit_changes
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.circuit.sizes import size_draws, sized, with_sizes
from kilter.simulate.circuit.sweep import sweep
from kilter.simulate.circuit.tolerances import sample_parameters, sampled_board
from kilter.simulate.ngspice.checked import net_voltages
from kilter.simulate.ngspice.library import find_ngspice
from kilter.simulate.ngspice.worker import NgspiceWorker

ON, OFF = State("on", powered=True), State("off", powered=False)
SOME = (("R2", "high"), ("R1", "low"), ("R2", "short"), ("C1", "leak"), ("Q1", "leak"))
FAULTS = [frozenset({fault}) for fault in SOME]


def stage(drifts=()):
    """A divider that feeds a transistor stage."""
    pins = {"R1": ("in", "b"), "R2": ("b", "0"), "R3": ("in", "c"), "R4": ("e", "0"), "C1": ("b", "0")}
    kinds = {"C1": "electrolytic"}
    parts = {r: Part(r, kinds.get(r, "resistor"), {"1": a, "2": b}, drifts=drifts) for r, (a, b) in pins.items()}
    parts["Q1"] = Part("Q1", "transistor", {"c": "c", "b": "b", "e": "e"})
    ohms = {"R1": 47e3, "R2": 10e3, "R3": 4.7e3, "R4": 1e3}
    elements = {ref: Element(ref, "R", pins[ref], ohm, ref) for ref, ohm in ohms.items()}
    elements["V1"] = Element("V1", "V", ("in", "0"), 12.0)
    elements["C1"] = Element("C1", "C", pins["C1"], 1e-5, "C1")
    elements["Q1"] = Element("Q1", "Q", ("c", "b", "e"), 1.0, "Q1", {"is": 1e-14, "bf": 200.0, "br": 4.0})
    points = {net: Point(net, net) for net in ("in", "b", "c", "e")}
    return Board("stage", parts, elements, points, states={"on": ON, "off": OFF})


def sized_samples(board, powered=True):
    equations = write_equations(board, powered=powered)
    return equations, with_sizes(equations, sample_parameters(board, equations, 6), size_draws(6))


def test_the_first_sample_keeps_the_typical_size_and_the_others_spread_around_it():
    draws = size_draws(20)
    assert draws[0] == 0.0
    assert draws[1:].mean() == pytest.approx(0.0, abs=1e-12)
    assert draws[1:].std() == pytest.approx(1.0)
    equations, table = sized_samples(stage())
    rows = [row for key, row in equations.parameter.items() if key[0] == "size"]
    assert (table[rows, 0] == 1.0).all()
    assert (table[rows].std(axis=1) > 0.0).all()


@pytest.mark.ngspice
@pytest.mark.parametrize("fault", FAULTS, ids=str)
def test_every_sample_of_a_sized_fault_is_what_ngspice_makes_of_it(fault):
    """ngspice is given the same board with the fault as large as the sample has it, a netlist each."""
    try:
        find_ngspice()
    except NotAvailable:
        pytest.skip("the ngspice shared library is absent")
    board = stage()
    equations, table = sized_samples(board)
    found = sweep(board, equations, ON, [fault], table)
    assert found.settled.all()
    with NgspiceWorker() as worker:
        for sample in range(table.shape[1]):
            built = sampled_board(board, equations, table[:, sample])
            changes = [
                (part, sized(equations, table[:, sample], part, change))
                for part, change in circuit_changes(built, ON, fault)
            ]
            theirs = net_voltages(worker, apply_changes(built, ON, changes))
            for net in ("b", "c", "e"):
                ours = found.volts[0, equations.node_place[net], sample]
                assert ours == pytest.approx(theirs[net], rel=2e-3, abs=1e-3), (net, sample)


def test_compiled_and_plain_sweeps_agree_on_sized_faults():
    pytest.importorskip("numba", reason="the compiled kernel is not installed")
    board = stage()
    equations, table = sized_samples(board)
    plain, compiled = (sweep(board, equations, ON, FAULTS, table, compiled=one).volts for one in (False, True))
    assert np.allclose(plain, compiled, rtol=1e-6, atol=1e-6)


def test_a_dead_board_shows_the_size_of_a_fault():
    """Closed form: a leak of 2.2 kohm times exp(t z) across b; R2 and the rest in parallel hardly count. [ln ohm]"""
    board = stage()
    test = Test("b", "resistance", "off", "low_voltage_ohms")
    found = CircuitPredictor(samples=20).predict(board, OFF, [frozenset(), frozenset({("C1", "leak")})], [test])
    healthy, leaking = found.spread[:, 0]
    assert leaking > 5 * healthy


def test_a_part_that_names_the_sizes_of_its_drift_keeps_them():
    """Only the shorts and leaks of such resistors have sizes, and the gain of the transistor, which names none."""
    free, fixed = (
        {key[1] for key in write_equations(stage(drifts), powered=True).parameter if key[0] == "size"}
        for drifts in ((), (1.5, 0.7))
    )
    assert f"{np.log(1.5):.9f}" in free
    assert f"{np.log(1.5):.9f}" not in fixed
    assert "bridge" in fixed


@pytest.mark.parametrize("bystander", [("C2", "low"), ("R5", "high")])
def test_a_bystander_does_not_sharpen_what_a_dead_board_shows(bystander):
    """
    A leak with a further fault elsewhere reads as the leak alone, with the same spread of its size; a narrower one
    would make two faults explain a typical leak better than one.
    """
    board = stage()
    parts = dict(board.parts) | {
        "C2": Part("C2", "electrolytic", {"1": "far", "2": "0"}),
        "R5": Part("R5", "resistor", {"1": "far", "2": "0"}),
    }
    elements = dict(board.elements) | {
        "C2": Element("C2", "C", ("far", "0"), 1e-6, "C2"),
        "R5": Element("R5", "R", ("far", "0"), 1e4, "R5"),
    }
    board = Board("stage and more", parts, elements, board.points, states=board.states)
    leak = ("C1", "leak")
    tests = [Test("b", "resistance", "off", "low_voltage_ohms"), Test("c", "resistance", "off", "low_voltage_ohms")]
    found = CircuitPredictor(samples=20).predict(board, OFF, [frozenset({leak}), frozenset({leak, bystander})], tests)
    assert found.mean[1] == pytest.approx(found.mean[0], abs=1e-3)
    assert found.spread[1] == pytest.approx(found.spread[0], rel=0.02)
