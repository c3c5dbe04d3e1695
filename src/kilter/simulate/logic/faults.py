"""
Stuck-at faults of a combinational netlist, and which of them no test can tell apart by their gate alone.

A line is a net (its stem) or, where a net has several readers, each branch to one reader; being looked at as an
output counts as a reader. Two faults of one gate are equivalent where they force the same output: an AND input at 0
is its output at 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kilter.measure.errors import BadInput
from kilter.simulate.logic.levels import Levelled
from kilter.simulate.logic.netlist import LogicNetlist

STEM = -1
"""Line.gate of a net as a whole."""

OUTPUT = -2
"""Line.gate of the branch from a net to the eye that looks at it as an output."""

FORCES = {"and": ((0, 0),), "nand": ((0, 1),), "or": ((1, 1),), "nor": ((1, 0),),
          "buf": ((0, 0), (1, 1)), "not": ((0, 1), (1, 0))}  # fmt: skip
"""Gate kind to (input value, the output value it forces whatever the other inputs are)."""

ALONE = {"and": "buf", "or": "buf", "xor": "buf", "nand": "not", "nor": "not", "xnor": "not"}
"""What a gate with a single input really is."""


@dataclass(frozen=True, slots=True, order=True)
class Line:
    """A net's stem, or one branch of it: to an input position of a gate (index into netlist.gates) or to OUTPUT."""

    net: str
    gate: int = STEM
    position: int = 0


@dataclass(frozen=True, slots=True, order=True)
class StuckAt:
    """A line that keeps one value (0 or 1) whatever drives it."""

    line: Line
    value: int


def lines(netlist: LogicNetlist) -> list[Line]:
    """Every line: each net, followed by its branches where it has more than one reader."""
    looked_at = set(netlist.outputs)
    found = []
    for net in netlist.nets:
        found.append(Line(net))
        branches = [Line(net, gate, position) for gate, position in netlist.readers[net]]
        branches += [Line(net, OUTPUT)] * (net in looked_at)
        if len(branches) > 1:
            found += branches
    return found


def every_fault(netlist: LogicNetlist) -> list[StuckAt]:
    """Both stuck-at faults of every line."""
    return [StuckAt(line, value) for line in lines(netlist) for value in (0, 1)]


def equivalence_classes(netlist: LogicNetlist) -> list[list[StuckAt]]:
    """Every stuck-at fault once, grouped by gate-local equivalence; in the order of every_fault."""
    faults = every_fault(netlist)
    leader = {fault: fault for fault in faults}

    def find(fault: StuckAt) -> StuckAt:
        while leader[fault] != fault:
            leader[fault] = leader[leader[fault]]
            fault = leader[fault]
        return fault

    for index, gate in enumerate(netlist.gates):
        kind = ALONE.get(gate.kind, gate.kind) if len(gate.inputs) == 1 else gate.kind
        for position, net in enumerate(gate.inputs):
            for value, forced in FORCES.get(kind, ()):
                branch = Line(net, index, position)
                at_input = StuckAt(branch if StuckAt(branch, value) in leader else Line(net), value)
                leader[find(at_input)] = find(StuckAt(Line(gate.output), forced))
    classes: dict[StuckAt, list[StuckAt]] = {}
    for fault in faults:
        classes.setdefault(find(fault), []).append(fault)
    return list(classes.values())


def collapsed_faults(netlist: LogicNetlist) -> list[StuckAt]:
    """One fault of each equivalence class, the last in the order of every_fault."""
    return [group[-1] for group in equivalence_classes(netlist)]


def check_line(netlist: LogicNetlist, fault: StuckAt) -> None:
    """
    Refuse a stuck line that is not there, which would else look like a healthy board.

    Raises:
        BadInput: The netlist lacks the line, or the value is neither 0 nor 1.
    """
    line = fault.line
    if line.gate == STEM:
        there = line.net in netlist.readers
    elif line.gate == OUTPUT:
        there = line.net in netlist.outputs
    else:
        there = (line.gate, line.position) in netlist.readers.get(line.net, ())
    if not there or fault.value not in (0, 1):
        raise BadInput(
            f"Cannot place a stuck line in the logic netlist {netlist.name}",
            f"{line} stuck at {fault.value}",
            "a net as a whole, a branch to a gate that reads it, or an output; stuck at 0 or 1",
            "Take lines from kilter.simulate.logic.faults.lines.",
        )


def places(levelled: Levelled, faults: Sequence[StuckAt]) -> list[tuple[int, int, int]]:
    """
    (net row, fan-in place, value) of each fault; place is STEM for a whole net and OUTPUT for an output branch.

    Raises:
        BadInput: A fault names a line that the netlist does not have.
    """
    found = []
    for fault in faults:
        check_line(levelled.netlist, fault)
        row = levelled.row[fault.line.net]
        where = fault.line.gate
        place = where if where < 0 else levelled.place_of[where, fault.line.position]
        found.append((row, place, fault.value))
    return found
