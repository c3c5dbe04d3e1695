"""The good machine against arithmetic, function tables and a SAT solver."""

# ruff: noqa: ARG005  (a function table names both operands everywhere)

import numpy as np
import pytest
from circuits import circuit, random_netlist
from pysat.solvers import Cadical153, Glucose4
from sat_oracle import Encoded

from kilter.measure.errors import BadInput, NotAvailable
from kilter.simulate.logic.lanes import all_vectors, pack, random_vectors, unpack
from kilter.simulate.logic.levels import levelled
from kilter.simulate.logic.netlist import Gate, LogicNetlist
from kilter.simulate.logic.simulate import simulate, truth

ENGINES = ["compiled", "plain"]


@pytest.fixture(params=ENGINES)
def engine(request):
    if request.param == "compiled":
        pytest.importorskip("numba", reason="the compiled engine needs the extra 'fast'")
    return request.param


def exhaustive(name, engine):
    """Every input row of a circuit and its outputs, as dicts of integer columns by net."""
    netlist = circuit(name)
    rows = unpack(all_vectors(len(netlist.inputs)).words, 1 << len(netlist.inputs))
    outputs = truth(netlist, rows, engine=engine)
    return (dict(zip(netlist.inputs, rows.T.astype(int), strict=True)),
            dict(zip(netlist.outputs, outputs.T.astype(int), strict=True)))  # fmt: skip


def number(columns, letters):
    """Columns put together to a binary number, lowest bit first."""
    return sum(columns[letter] << place for place, letter in enumerate(letters))


def test_74283_adds(engine):
    given, found = exhaustive("74283", engine)
    a, b = (number(given, [f"{letter}{k}" for k in range(1, 5)]) for letter in "AB")
    assert (number(found, ["S1", "S2", "S3", "S4", "C4"]) == a + b + given["C0"]).all()


def test_74182_looks_ahead(engine):
    """Carry recurrence c' = g or (p and c), stage by stage; group terms as a chain of four stages without a carry."""
    given, found = exhaustive("74182", engine)
    generate = [1 - given[f"G{k}_"] for k in range(4)]
    propagate = [1 - given[f"P{k}_"] for k in range(4)]
    carry = given["C"]
    for k, name in enumerate(["CX", "CY", "CZ"]):
        carry = generate[k] | (propagate[k] & carry)
        assert (found[name] == carry).all()
    group = 0
    for k in range(4):
        group = generate[k] | (propagate[k] & group)
    assert (found["P_"] == 1 - np.bitwise_and.reduce(propagate)).all()
    assert (found["G_"] == 1 - group).all()


LOGIC = [
    lambda a, b: ~a, lambda a, b: ~(a | b), lambda a, b: ~a & b, lambda a, b: 0 * a,
    lambda a, b: ~(a & b), lambda a, b: ~b, lambda a, b: a ^ b, lambda a, b: a & ~b,
    lambda a, b: ~a | b, lambda a, b: ~(a ^ b), lambda a, b: b, lambda a, b: a & b,
    lambda a, b: 0 * a + 15, lambda a, b: a | ~b, lambda a, b: a | b, lambda a, b: a,
]  # fmt: skip
"""The 16 logic functions of the 74181 by S3 S2 S1 S0, active-high data; maker's function table, from memory."""

ARITHMETIC = [
    lambda a, b: a, lambda a, b: a | b, lambda a, b: a | ~b & 15, lambda a, b: 0 * a - 1,
    lambda a, b: a + (a & ~b), lambda a, b: (a | b) + (a & ~b), lambda a, b: a - b - 1, lambda a, b: (a & ~b) - 1,
    lambda a, b: a + (a & b), lambda a, b: a + b, lambda a, b: (a | ~b & 15) + (a & b), lambda a, b: (a & b) - 1,
    lambda a, b: a + a, lambda a, b: (a | b) + a, lambda a, b: (a | ~b & 15) + a, lambda a, b: a - 1,
]  # fmt: skip
"""The 16 sums of the 74181 without carry in, same table, from memory."""


def test_74181_follows_its_function_table(engine):
    given, found = exhaustive("74181", engine)
    a, b, select = (number(given, [f"{letter}{k}" for k in range(4)]) for letter in "ABS")
    result = number(found, ["F0", "F1", "F2", "F3"])
    for code in range(16):
        logic = (select == code) & (given["M"] == 1)
        assert (result[logic] == LOGIC[code](a, b)[logic] & 15).all()
        sums = (select == code) & (given["M"] == 0)
        total = ARITHMETIC[code](a, b) + 1 - given["C_"]
        assert (result[sums] == total[sums] & 15).all()
    assert (found["EQ"] == (result == 15)).all()
    adds = (select == 0b1001) & (given["M"] == 0)
    assert (found["C4_"][adds] == 1 - ((a + b + 1 - given["C_"]) >> 4)[adds]).all()


@pytest.mark.parametrize("name", ["c17", "c432", "c499", "c880", "c1908", "74181"])
def test_every_net_is_what_unit_propagation_of_a_sat_solver_makes_it(name, engine):
    netlist = circuit(name)
    logic, vectors = levelled(netlist), random_vectors(len(netlist.inputs), 40, seed=3)
    rows = unpack(simulate(logic, vectors, engine=engine), 40)
    encoded = Encoded(netlist)
    with Glucose4(bootstrap_with=encoded.clauses) as solver:
        for row in rows:
            given = [encoded.variable[net] * (1 if row[k] else -1) for k, net in enumerate(netlist.inputs)]
            consistent, implied = solver.propagate(assumptions=given)
            assert consistent
            value = {abs(literal): literal > 0 for literal in implied}
            assert [value[encoded.variable[net]] for net in logic.nets] == row.tolist()


@pytest.mark.parametrize("seed", range(12))
def test_random_logic_agrees_with_a_sat_solver(seed, engine):
    netlist = random_netlist(seed)
    logic = levelled(netlist)
    rows = unpack(simulate(logic, all_vectors(logic.n_inputs), engine=engine), 1 << logic.n_inputs)
    encoded = Encoded(netlist)
    with Cadical153(bootstrap_with=encoded.clauses) as solver:
        for row in rows:
            claim = [encoded.variable[net] * (1 if bit else -1) for net, bit in zip(logic.nets, row, strict=True)]
            assert solver.solve(assumptions=claim)


@pytest.mark.parametrize("count", [1, 63, 64, 65, 1024, 1025])
def test_packing_and_unpacking_gives_the_rows_back(count):
    rows = np.random.default_rng(count).integers(0, 2, (count, 7)).astype(bool)
    vectors = pack(rows)
    assert (unpack(vectors.words, count) == rows).all()
    assert int(sum(int(word).bit_count() for word in vectors.mask)) == count


def test_rows_that_are_not_bits_are_refused():
    with pytest.raises(BadInput, match=r"\[0, 2\]"):
        pack([[0, 2]])
    with pytest.raises(BadInput, match=r"shape \(2,\)"):
        pack([0, 1])


def test_what_the_two_valued_engine_cannot_do_is_refused():
    loop = LogicNetlist((Gate("nand", ("a", "y"), "x"), Gate("nand", ("b", "x"), "y")), ("a", "b"), ("y",))
    with pytest.raises(BadInput, match="loop"):
        levelled(loop)
    with pytest.raises(BadInput, match="bus driver"):
        levelled(LogicNetlist((Gate("tri", ("a", "b"), "y"),), ("a", "b"), ("y",)))
    with pytest.raises(BadInput, match="0 drivers on net 'b'"):
        levelled(LogicNetlist((Gate("and", ("a", "b"), "y"),), ("a",), ("y",)))


def test_wrong_widths_kinds_and_engines_are_refused():
    with pytest.raises(BadInput, match="36 bits"):
        simulate(levelled(circuit("c432")), random_vectors(5, 8))
    with pytest.raises(BadInput, match="majority"):
        LogicNetlist((Gate("majority", ("a", "a", "a"), "y"),), ("a",), ("y",))
    with pytest.raises(BadInput, match="steam"):
        simulate(levelled(circuit("c17")), random_vectors(5, 8), engine="steam")


def test_the_compiled_engine_by_name_without_numba_says_so(monkeypatch):
    monkeypatch.setattr("kilter.simulate.logic.engine.find_spec", lambda _: None)
    with pytest.raises(NotAvailable, match="'fast'"):
        simulate(levelled(circuit("c17")), random_vectors(5, 8), engine="compiled")
    assert simulate(levelled(circuit("c17")), random_vectors(5, 8)).shape == (11, 16)
