"""Smallest explanations against weighted MaxSAT (RC2 of python-sat), which knows nothing of our search."""

from dataclasses import replace

import numpy as np
import pytest
from circuits import circuit, random_netlist
from pysat.examples.hitman import Hitman
from sat_oracle import smallest_explanations

from kilter.measure.errors import BadInput, OutOfRange
from kilter.simulate.logic.diagnose_exact import NOT_READ, minimal_diagnoses
from kilter.simulate.logic.levels import levelled
from kilter.simulate.logic.netlist import Gate, LogicNetlist
from kilter.simulate.logic.simulate import truth

INVERTED = {"and": "nand", "or": "nor", "xor": "xnor", "not": "buf", "zero": "one"}
INVERTED |= {inverted: kind for kind, inverted in INVERTED.items()}


def broken_case(netlist, seed, count=2):
    """One random vector and what comes out with that many gates inverted."""
    rng = np.random.default_rng(seed)
    gates = list(netlist.gates)
    for index in rng.choice(len(gates), count, replace=False):
        gates[index] = replace(gates[index], kind=INVERTED[gates[index].kind])
    inputs = rng.integers(0, 2, (1, len(netlist.inputs)))
    return inputs, truth(replace(netlist, gates=tuple(gates)), inputs).astype(int)


CASES = [("c17", 30), ("74182", 20), ("74283", 20), ("74181", 15), ("c432", 15), ("c880", 8)]


@pytest.mark.parametrize(("name", "seed"), [(name, seed) for name, cases in CASES for seed in range(cases)])
def test_all_smallest_explanations_are_those_of_maxsat(name, seed):
    netlist = circuit(name)
    inputs, observed = broken_case(netlist, seed)
    found = minimal_diagnoses(levelled(netlist), inputs, observed)
    assert set(found) == smallest_explanations(netlist, inputs[0].tolist(), observed[0].tolist())
    assert len(set(found)) == len(found)


@pytest.mark.parametrize("seed", range(25))
def test_three_broken_gates_and_outputs_not_read(seed):
    netlist = random_netlist(seed, gates=25)
    inputs, observed = broken_case(netlist, seed, count=3)
    observed[0, 0] = NOT_READ
    found = minimal_diagnoses(levelled(netlist), inputs, observed)
    assert set(found) == smallest_explanations(netlist, inputs[0].tolist(), observed[0].tolist())


@pytest.mark.parametrize("seed", range(10))
def test_several_vectors_are_explained_by_hitting_the_sets_that_explain_each(seed):
    """
    Weak model, several vectors: a set explains all exactly when it explains each.

    Outside judge: the gate sets up to size 2 that MaxSAT accepts for each vector alone.
    """
    netlist = circuit("c17")
    rng = np.random.default_rng(seed)
    gates = list(netlist.gates)
    gates[seed % 6] = replace(gates[seed % 6], kind="and")
    inputs = rng.integers(0, 2, (4, 5))
    observed = truth(replace(netlist, gates=tuple(gates)), inputs).astype(int)
    found = minimal_diagnoses(levelled(netlist), inputs, observed)
    singles = [
        {next(iter(one)) for one in sets} if max(map(len, sets)) else set()
        for sets in (smallest_explanations(netlist, row.tolist(), seen.tolist())
                     for row, seen in zip(inputs, observed, strict=True))
    ]  # fmt: skip
    wrong = [names for names in singles if names]
    if not wrong:
        assert found == [frozenset()]
        return
    assert set(found) == {frozenset({name}) for name in set.intersection(*wrong)}
    assert netlist.gates[seed % 6].output in set.intersection(*wrong)


def test_two_separate_faults_give_the_hitting_sets_of_their_cones():
    """Two chains that share nothing: the conflicts are the chains, and PySAT's Hitman lists their hitting sets."""
    chains = [[f"{letter}{k}" for k in range(4)] for letter in "ab"]
    gates = tuple(Gate("not", (chain[k],), chain[k + 1]) for chain in chains for k in range(3))
    netlist = LogicNetlist(gates, ("a0", "b0"), ("a3", "b3"))
    found = minimal_diagnoses(levelled(netlist), [[0, 1]], [[0, 1]])
    with Hitman(bootstrap_with=[chain[1:] for chain in chains], htype="sorted") as search:
        assert set(found) == {frozenset(one) for one in search.enumerate()}
    assert len(found) == 9


def test_nothing_wrong_and_nothing_small_enough():
    netlist = circuit("c17")
    good = truth(netlist, [[0, 1, 0, 1, 1]]).astype(int)
    assert minimal_diagnoses(levelled(netlist), [[0, 1, 0, 1, 1]], good) == [frozenset()]
    assert minimal_diagnoses(levelled(netlist), [[0, 1, 0, 1, 1]], 1 - good, most_gates=0) == []


def test_rows_that_do_not_fit_are_refused():
    logic = levelled(circuit("c17"))
    with pytest.raises(BadInput, match=r"\(1, 2\)"):
        minimal_diagnoses(logic, [[0] * 5], [[0]])
    with pytest.raises(BadInput, match="the value 2"):
        minimal_diagnoses(logic, [[0, 1, 2, 0, 0]], [[0, 0]])
    with pytest.raises(OutOfRange, match="13 gates"):
        minimal_diagnoses(logic, [[0] * 5], [[0, 0]], most_gates=13)
