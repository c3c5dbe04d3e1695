"""Put gates in an order in which every input is known before it is read, and lay them out as arrays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput
from kilter.simulate.logic.netlist import BOOLEAN_KINDS, Gate, LogicNetlist

Integers = NDArray[np.int32]
Words = NDArray[np.uint64]

ALL = np.uint64(0xFFFF_FFFF_FFFF_FFFF)

POLARITY: Mapping[str, tuple[bool, bool, bool]] = {
    "and": (False, False, False),
    "nand": (False, False, True),
    "or": (False, True, True),
    "nor": (False, True, False),
    "buf": (False, False, False),
    "not": (False, False, True),
    "one": (False, False, False),
    "zero": (False, False, True),
    "xor": (True, False, False),
    "xnor": (True, False, True),
}
"""Kind to (parity gate, inputs inverted, output inverted): every other gate is an AND behind inverters."""


@dataclass(frozen=True)
class Levelled:
    """
    A combinational netlist as arrays; net rows are the inputs, then one row for each gate in level order.

    Args:
        netlist: Where it came from.
        nets: Net name of each row.
        gates: Index into netlist.gates of each gate row.
        level: Longest path from an input, shape (nets,).
        parity: Gate is an exclusive-or, shape (gates,).
        flip_in: All ones where the gate's inputs are inverted, shape (gates,).
        flip_out: All ones where the gate's output is inverted, shape (gates,).
        start: First fan-in place of each gate and one past the last, shape (gates + 1,).
        fanin: Net row read at each place, shape (places,).
        reader_start: First reader of each net and one past the last, shape (nets + 1,).
        reader: Places that read the net, in level order, shape (places,).
        place_gate: Gate row that owns each place, shape (places,).
        outputs: Net row of each output.
    """

    netlist: LogicNetlist
    nets: tuple[str, ...]
    gates: tuple[int, ...]
    level: Integers
    parity: NDArray[np.bool_]
    flip_in: Words
    flip_out: Words
    start: Integers
    fanin: Integers
    reader_start: Integers
    reader: Integers
    place_gate: Integers
    outputs: Integers

    @property
    def n_inputs(self) -> int:
        """Rows before the first gate."""
        return len(self.nets) - len(self.gates)

    @cached_property
    def row(self) -> Mapping[str, int]:
        """Net name to row."""
        return {net: row for row, net in enumerate(self.nets)}

    @cached_property
    def output_of(self) -> Integers:
        """Output number of each net row, -1 for none, shape (nets,)."""
        found = np.full(len(self.nets), -1, np.int32)
        found[self.outputs] = np.arange(len(self.outputs), dtype=np.int32)
        return found

    @cached_property
    def place_of(self) -> Mapping[tuple[int, int], int]:
        """(index into netlist.gates, input position) to fan-in place."""
        return {
            (gate, position): int(self.start[row]) + position
            for row, gate in enumerate(self.gates)
            for position in range(len(self.netlist.gates[gate].inputs))
        }


def gate_order(netlist: LogicNetlist) -> tuple[list[int], bool]:
    """
    Gates in an order in which drivers come before readers, and whether a loop had to be cut to get it.

    Where a loop leaves no gate ready, the waiting gate that was written first is taken.
    """
    waiting = {index: len({d for net in gate.inputs for d in netlist.drivers[net]})
               for index, gate in enumerate(netlist.gates)}  # fmt: skip
    ready = [index for index, count in waiting.items() if not count]
    order: list[int] = []
    looped = False
    while waiting:
        if not ready:
            looped = True
            ready = [next(iter(waiting))]
        following = []
        for index in ready:
            order.append(index)
            waiting.pop(index)
        for index in ready:
            for reader in {reader for reader, _ in netlist.readers[netlist.gates[index].output]}:
                if reader in waiting:
                    waiting[reader] -= 1
                    if not waiting[reader]:
                        following.append(reader)
        ready = following
    return order, looped


def levelled(netlist: LogicNetlist) -> Levelled:
    """
    Arrays of a purely combinational netlist for the two-valued engines.

    Raises:
        BadInput: It holds registers, bus drivers, buses, floating nets or a loop; the four-valued engine takes these.
    """
    _check_two_valued(netlist)
    order, looped = gate_order(netlist)
    if looped:
        raise _refused(netlist, "a loop through gates")
    nets = netlist.inputs + tuple(netlist.gates[index].output for index in order)
    row = {net: number for number, net in enumerate(nets)}
    ordered = [netlist.gates[index] for index in order]
    counts = [len(gate.inputs) for gate in ordered]
    fanin = np.array([row[net] for gate in ordered for net in gate.inputs], np.int32)
    polarity = np.array([POLARITY[gate.kind] for gate in ordered], bool).reshape(-1, 3)
    return Levelled(
        netlist=netlist,
        nets=nets,
        gates=tuple(order),
        level=_levels(ordered, row, len(nets)),
        parity=polarity[:, 0],
        flip_in=np.where(polarity[:, 1], ALL, np.uint64(0)),
        flip_out=np.where(polarity[:, 2], ALL, np.uint64(0)),
        start=np.concatenate([[0], np.cumsum(counts)]).astype(np.int32),
        fanin=fanin,
        reader_start=np.searchsorted(np.sort(fanin), np.arange(len(nets) + 1)).astype(np.int32),
        reader=np.argsort(fanin, kind="stable").astype(np.int32),
        place_gate=np.repeat(np.arange(len(ordered)), counts).astype(np.int32),
        outputs=np.array([row[net] for net in netlist.outputs], np.int32),
    )


def _levels(ordered: list[Gate], row: Mapping[str, int], n_nets: int) -> Integers:
    level = np.zeros(n_nets, np.int32)
    for gate in ordered:
        level[row[gate.output]] = 1 + max((int(level[row[net]]) for net in gate.inputs), default=-1)
    return level


def _check_two_valued(netlist: LogicNetlist) -> None:
    if netlist.registers:
        raise _refused(netlist, f"{len(netlist.registers)} registers")
    for gate in netlist.gates:
        if gate.kind not in BOOLEAN_KINDS:
            raise _refused(netlist, f"a bus driver of kind '{gate.kind}' on net '{gate.output}'")
    inputs = set(netlist.inputs)
    for net in netlist.nets:
        count = len(netlist.drivers[net]) + (net in inputs)
        if count != 1:
            raise _refused(netlist, f"{count} drivers on net '{net}'")


def _refused(netlist: LogicNetlist, found: str) -> BadInput:
    return BadInput(
        f"Cannot lay out the logic netlist {netlist.name} for the two-valued engine",
        found,
        "gates between inputs and outputs, one driver for each net, no loops",
        "Use the four-valued engine, or LogicNetlist.combinational() to look between the registers only.",
    )
