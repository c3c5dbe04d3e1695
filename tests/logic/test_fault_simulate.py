"""Single stuck-at faults: the stem method against direct injection, a logic simulator and a SAT solver."""

import numpy as np
import pytest
from circuits import AUTHORITIES, circuit, random_netlist
from sat_oracle import Encoded

from kilter.simulate.logic.fault_simulate import StuckAtSweep
from kilter.simulate.logic.faults import Line, StuckAt, collapsed_faults, every_fault
from kilter.simulate.logic.inject import Injector
from kilter.simulate.logic.lanes import all_vectors, pack, random_vectors, unpack
from kilter.simulate.logic.levels import levelled

REDUNDANT = {"c17": 0, "c432": 4, "c499": 8, "c880": 0, "c1355": 8, "c1908": 9}
"""Untestable collapsed faults: SAT proof, and the figures of the test-generation literature, from memory."""


@pytest.fixture(params=["compiled", "plain"])
def engine(request):
    if request.param == "compiled":
        pytest.importorskip("numba", reason="the compiled engine needs the extra 'fast'")
    return request.param


@pytest.mark.parametrize("name", ["c17", "c432", "c499", "c880", "c1908", "c6288", "c7552"])
@pytest.mark.parametrize("count", [1, 65, 1500])
def test_both_engines_say_the_same_of_every_fault(name, count):
    pytest.importorskip("numba", reason="the compiled engine needs the extra 'fast'")
    logic, vectors = levelled(circuit(name)), random_vectors(len(circuit(name).inputs), count, seed=count)
    faults = collapsed_faults(circuit(name))
    compiled = StuckAtSweep(logic, faults, engine="compiled").run(vectors)
    plain = StuckAtSweep(logic, faults, engine="plain").run(vectors)
    assert (compiled.detections == plain.detections).all()
    assert (compiled.signatures == plain.signatures).all()


@pytest.mark.parametrize("netlist", [circuit("c17"), *map(random_netlist, range(40))], ids=lambda netlist: netlist.name)
def test_stem_method_equals_direct_injection_of_every_line_under_every_vector(netlist, engine):
    logic, vectors = levelled(netlist), all_vectors(len(netlist.inputs))
    faults = every_fault(netlist)
    found = StuckAtSweep(logic, faults, engine=engine).run(vectors)
    injector = Injector(logic, vectors)
    good = injector.outputs([])
    differences = [injector.outputs([fault]) ^ good for fault in faults]
    counts = [int(unpack(difference, vectors.count).any(axis=1).sum()) for difference in differences]
    assert found.detections.tolist() == counts
    same_response = {difference.tobytes() for difference in differences}
    assert len(found.ties()) == len(same_response)


def test_stuck_nets_do_what_icarus_verilog_says_a_forced_net_does(engine):
    """authorities/logic/faults-c432.txt, made by builders/build_logic_authority.py."""
    _, vectors_line, *results = (AUTHORITIES / "faults-c432.txt").read_text().splitlines()
    rows = np.array([[int(bit) for bit in row] for row in vectors_line[2:].split()])
    logic, vectors = levelled(circuit("c432")), pack(rows)
    told = {tuple(line.split()[:2]): np.array([int(bit) for bit in line.split()[2]]).reshape(len(rows), -1) == 1
            for line in results}  # fmt: skip
    good = told.pop(("good", "-"))
    injector = Injector(logic, vectors)
    assert (unpack(injector.outputs([]), len(rows)) == good).all()
    faults = [StuckAt(Line(net), int(value)) for net, value in told]
    found = StuckAtSweep(logic, faults, engine=engine).run(vectors)
    for fault, count, outputs in zip(faults, found.detections, told.values(), strict=True):
        assert (unpack(injector.outputs([fault]), len(rows)) == outputs).all()
        assert count == (outputs != good).any(axis=1).sum()
    assert len(faults) == 2 * len(circuit("c432").nets)


@pytest.mark.parametrize("name", REDUNDANT)
def test_faults_that_no_vector_shows_are_those_a_sat_solver_proves_redundant(name):
    logic = levelled(circuit(name))
    faults = collapsed_faults(circuit(name))
    left = StuckAtSweep(logic, faults).run(random_vectors(logic.n_inputs, 16 * 1024, seed=1)).undetected()
    encoded = Encoded(circuit(name))
    redundant = [fault for fault in left if encoded.test_vector(fault) is None]
    assert len(redundant) == REDUNDANT[name]


@pytest.mark.parametrize("seed", range(10))
def test_detected_means_testable_and_undetected_by_all_vectors_means_redundant(seed, engine):
    netlist = random_netlist(seed)
    encoded = Encoded(netlist)
    found = StuckAtSweep(levelled(netlist), every_fault(netlist), engine=engine).run(all_vectors(len(netlist.inputs)))
    assert [bool(count) for count in found.detections] == [
        encoded.test_vector(fault) is not None for fault in found.faults
    ]


def test_two_faults_at_once_can_hide_each_other():
    """An inverter pair with both outputs stuck: the later one decides, by definition of a stuck line."""
    netlist = circuit("c17")
    logic, vectors = levelled(netlist), all_vectors(5)
    injector = Injector(logic, vectors)
    last, before = netlist.outputs[0], netlist.gates[0].output
    both = injector.outputs([StuckAt(Line(last), 0), StuckAt(Line(before), 1)])
    assert not unpack(both, 32)[:, 0].any()
    alone = injector.outputs([StuckAt(Line(before), 1)])
    assert (unpack(both, 32)[:, 1] == unpack(alone, 32)[:, 1]).all()


def test_difference_of_one_fault_agrees_with_its_count():
    logic = levelled(circuit("c880"))
    faults = collapsed_faults(circuit("c880"))
    found = StuckAtSweep(logic, faults).run(random_vectors(logic.n_inputs, 300, seed=4))
    for number in range(0, len(faults), 97):
        assert found.differences(faults[number]).any(axis=1).sum() == found.detections[number]


PROVED = ["c2670", "c3540", "c5315", "c7552"]


@pytest.mark.parametrize("name", PROVED)
def test_every_fault_of_the_larger_circuits_is_shown_by_a_vector_or_proved_redundant(name):
    """authorities/logic/redundant-*.txt: SAT vectors and proofs, made by builders/build_redundancy_authority.py."""
    logic, faults = levelled(circuit(name)), collapsed_faults(circuit(name))
    lines = [line.split() for line in (AUTHORITIES / f"redundant-{name}.txt").read_text().splitlines()]
    told = {int(number): vector for number, vector in lines if number != "#"}
    redundant = {number for number, vector in told.items() if vector == "redundant"}
    found = StuckAtSweep(logic, faults).run(random_vectors(logic.n_inputs, 8 * 1024, seed=1))
    left = {number for number, count in enumerate(found.detections) if not count}
    assert redundant <= left <= set(told)
    shown = sorted(set(told) - redundant)
    rows = [[int(bit) for bit in told[number]] for number in shown]
    counts = (
        StuckAtSweep(logic, [faults[number] for number in shown])
        .run(pack(np.array(rows, int).reshape(-1, logic.n_inputs)))
        .detections
    )
    assert (counts > 0).all()
    assert len(redundant) == {"c2670": 117, "c3540": 137, "c5315": 59, "c7552": 131}[name]
