"""Fault lists and collapsing against the counts printed in the circuits' headers."""

import pytest
from circuits import WITH_HEADER, circuit, header, random_netlist

from kilter.simulate.logic.faults import collapsed_faults, equivalence_classes, every_fault
from kilter.simulate.logic.inject import Injector
from kilter.simulate.logic.lanes import all_vectors
from kilter.simulate.logic.levels import levelled

FROM_MEMORY = {"c3540": 3428, "c5315": 5350, "c6288": 7744}
"""Collapsed counts as quoted in the test-generation literature, from memory; these copies carry no header."""


@pytest.mark.parametrize("name", WITH_HEADER)
def test_collapsed_count_is_the_one_in_the_header(name):
    assert len(collapsed_faults(circuit(name))) == header(name, "reduced equivalent fault set size =")


@pytest.mark.parametrize("name", FROM_MEMORY)
def test_collapsed_count_without_header(name):
    assert len(collapsed_faults(circuit(name))) == FROM_MEMORY[name]


@pytest.mark.parametrize("name", ["c17", "c432", "c880"])
def test_every_fault_is_in_one_class(name):
    logic = circuit(name)
    members = [fault for group in equivalence_classes(logic) for fault in group]
    assert sorted(members) == sorted(every_fault(logic))
    assert len(members) == 2 * header(name, "total number of lines in the netlist")


@pytest.mark.parametrize(
    "netlist", [circuit("c17"), circuit("74182"), *map(random_netlist, range(20))], ids=lambda netlist: netlist.name
)
def test_faults_of_a_class_do_the_same_under_every_vector(netlist):
    logic = levelled(netlist)
    injector = Injector(logic, all_vectors(logic.n_inputs))
    for group in equivalence_classes(netlist):
        assert len({injector.outputs([fault]).tobytes() for fault in group}) == 1
