"""
The outside judge: gate netlists as clauses for a SAT solver (python-sat), written from the gates' definitions.

Nothing of the engine is used here but the netlist's own gate list.
"""

from __future__ import annotations

from itertools import count

from pysat.examples.rc2 import RC2
from pysat.formula import WCNF
from pysat.solvers import Cadical153

from kilter.simulate.logic.faults import OUTPUT, STEM, StuckAt
from kilter.simulate.logic.netlist import Gate, LogicNetlist


def gate_clauses(kind: str, output: int, inputs: list[int], fresh) -> list[list[int]]:
    """Clauses that say: output = kind(inputs)."""
    if kind in ("nand", "nor", "xnor", "not", "zero"):
        partner = {"nand": "and", "nor": "or", "xnor": "xor", "not": "buf", "zero": "one"}[kind]
        return gate_clauses(partner, -output, inputs, fresh)
    if kind == "one":
        return [[output]]
    if kind == "or":
        return [[-one, output] for one in inputs] + [[*inputs, -output]]
    if kind in ("and", "buf"):
        return [[one, -output] for one in inputs] + [[*(-one for one in inputs), output]]
    clauses: list[list[int]] = []
    while len(inputs) > 1:
        a, b, joined = inputs[0], inputs[1], next(fresh)
        clauses += [[-a, -b, -joined], [a, b, -joined], [a, -b, joined], [-a, b, joined]]
        inputs = [joined, *inputs[2:]]
    return [*clauses, [inputs[0], -output], [-inputs[0], output]]


class Encoded:
    """Variables and clauses of one netlist."""

    def __init__(self, netlist: LogicNetlist) -> None:
        self.netlist, self.fresh = netlist, count(1)
        self.variable = {net: next(self.fresh) for net in netlist.nets}
        self.clauses: list[list[int]] = []
        for gate in netlist.gates:
            self.clauses += self.gate(gate, self.variable)

    def gate(self, gate: Gate, variable: dict[str, int]) -> list[list[int]]:
        return gate_clauses(gate.kind, variable[gate.output], [variable[net] for net in gate.inputs], self.fresh)

    def cone(self, net: str) -> list[Gate]:
        """The gates that a net can change, in any order."""
        reached, size = {net}, 0
        while len(reached) > size:
            size = len(reached)
            reached |= {gate.output for gate in self.netlist.gates if reached & set(gate.inputs)}
        return [gate for gate in self.netlist.gates if reached & set(gate.inputs)]

    def test_vector(self, fault: StuckAt) -> list[int] | None:
        """Input bits that make an output differ; None where the solver proves that there are none."""
        line, stuck = fault.line, next(self.fresh)
        changed, clauses = dict(self.variable), [[stuck if fault.value else -stuck]]
        owner = self.netlist.gates[line.gate] if line.gate >= 0 else None
        if line.gate == STEM:
            changed[line.net] = stuck
        if line.gate == OUTPUT:
            pairs = [(stuck, self.variable[line.net])]
        else:
            gates = [gate for gate in self.cone(owner.output if owner else line.net) if gate.output != line.net]
            gates += [owner] if owner and owner not in gates else []
            for gate in gates:
                changed[gate.output] = next(self.fresh)
            for gate in gates:
                inputs = [changed[net] for net in gate.inputs]
                if gate is owner:
                    inputs[line.position] = stuck
                clauses += gate_clauses(gate.kind, changed[gate.output], inputs, self.fresh)
            pairs = [(changed[net], self.variable[net]) for net in self.netlist.outputs]
        differs = []
        for faulty, good in pairs:
            if faulty != good:
                differ = next(self.fresh)
                differs.append(differ)
                clauses += [[-differ, faulty, good], [-differ, -faulty, -good]]
        with Cadical153(bootstrap_with=[*self.clauses, *clauses, differs]) as solver:
            if not solver.solve():
                return None
            model = set(solver.get_model())
        return [int(self.variable[net] in model) for net in self.netlist.inputs]


def smallest_explanations(netlist: LogicNetlist, inputs: list[int], observed: list[int]) -> set[frozenset[str]]:
    """All smallest sets of gates that may be broken, one vector, by weighted MaxSAT (RC2); gates by output net."""
    encoded = Encoded(netlist)
    problem, healthy = WCNF(), {}
    for gate in netlist.gates:
        healthy[gate.output] = ok = next(encoded.fresh)
        problem.extend([[-ok, *clause] for clause in encoded.gate(gate, encoded.variable)])
        problem.append([ok], weight=1)
    for net, bit in zip((*netlist.inputs, *netlist.outputs), (*inputs, *observed), strict=True):
        if bit >= 0:
            problem.append([encoded.variable[net] if bit else -encoded.variable[net]])
    found: set[frozenset[str]] = set()
    with RC2(problem) as search:
        smallest = None
        while (model := search.compute()) is not None and search.cost == (smallest := smallest or search.cost):
            broken = frozenset(net for net, ok in healthy.items() if model[ok - 1] < 0)
            found.add(broken)
            if not broken:
                break
            search.add_clause([healthy[net] for net in broken])
    return found
