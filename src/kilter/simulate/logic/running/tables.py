"""A logic netlist as arrays of integers, and where its defects bite."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.logic.families import family_of
from kilter.simulate.logic.levels import gate_order
from kilter.simulate.logic.netlist import LogicNetlist, Place
from kilter.simulate.logic.overrides import Overrides

Integers = NDArray[np.int32]
Words = NDArray[np.uint64]

KINDS = ("and", "or", "xor", "zero", "tri", "tri_low", "open_collector")
INVERTED = {"nand": "and", "nor": "or", "xnor": "xor", "not": "and", "one": "zero"}
READS = "0X1"
"""What an open input reads, by code."""
ROLES = ("data", "clock", "clear", "preset")
WINNERS = ("own", "other", "and", "or")
LANES = 8
"""Lanes of one fault set: one byte of a word."""


class Bites(NamedTuple):
    """Changes at numbered places: rows start[place] to start[place + 1] of (word, mask, high, low)."""

    start: Integers
    word: Integers
    mask: Words
    high: Words
    low: Words


class Tables(NamedTuple):
    """
    Everything the kernel reads and never writes.

    Gates stand in the order in which they are worked out. Drive rows: one a gate, then two a register (output and
    inverse), then one an input. Read places: one for each gate input, then four a register.
    """

    kind: Integers
    inverted: NDArray[np.bool_]
    fanin_start: Integers
    fanin: Integers
    gate_open: Integers
    gate_net: Integers
    driver_start: Integers
    driver: Integers
    reader_start: Integers
    reader: Integers
    register_net: Integers
    register_drives: Integers
    register_open: Integers
    register_latch: NDArray[np.bool_]
    register_falling: NDArray[np.bool_]
    watcher_start: Integers
    watcher: Integers
    input_net: Integers
    pull: Integers
    reads: Bites
    drives: Bites
    nets: Bites
    unpulled: Bites
    bridge_start: Integers
    bridge_word: Integers
    bridge_mask: Words
    bridge_other: Integers
    bridge_winner: Integers


def tables(netlist: LogicNetlist, changes: Overrides, unpulled: dict[str, list[int]]) -> Tables:
    """
    The arrays of a netlist under numbered fault sets, eight lanes each.

    Args:
        netlist: The board.
        changes: Defects by place and fault set.
        unpulled: Net to the fault sets in which its pull resistor is gone.
    """
    order, _ = gate_order(netlist)
    gates = [netlist.gates[index] for index in order]
    place_of_gate = {index: number for number, index in enumerate(order)}
    net_row = {net: row for row, net in enumerate(netlist.nets)}
    opens = {ref: READS.index(family_of(netlist.chips, ref).open_input) for ref in _parts(netlist)}
    fanin_start = _starts([len(gate.inputs) for gate in gates])
    drivers: list[list[int]] = [[] for _ in netlist.nets]
    readers: list[list[int]] = [[] for _ in netlist.nets]
    watchers: list[list[int]] = [[] for _ in netlist.nets]
    for number, gate in enumerate(gates):
        drivers[net_row[gate.output]].append(number)
        for net in set(gate.inputs):
            readers[net_row[net]].append(number)
    for number, one in enumerate(netlist.registers):
        for role, net in one.drives().items():
            drivers[net_row[net]].append(len(gates) + 2 * number + (role == "inverse"))
        for net in set(one.reads().values()):
            watchers[net_row[net]].append(number)
    for number, net in enumerate(netlist.inputs):
        drivers[net_row[net]].append(len(gates) + 2 * len(netlist.registers) + number)
    n_inputs = int(fanin_start[-1])

    def read_place(place: Place) -> int:
        what, index, role = place
        if what == "gate":
            return int(fanin_start[place_of_gate[index]]) + int(role)
        return n_inputs + 4 * index + ROLES.index(role)

    def drive_place(place: Place) -> int:
        what, index, role = place
        return place_of_gate[index] if what == "gate" else len(gates) + 2 * index + (role == "inverse")

    n_drives = len(gates) + 2 * len(netlist.registers) + len(netlist.inputs)
    return Tables(
        kind=_array([KINDS.index(_plain(INVERTED.get(gate.kind, gate.kind))) for gate in gates]),
        inverted=np.array([gate.kind in INVERTED for gate in gates], bool),
        fanin_start=fanin_start,
        fanin=_array([net_row[net] for gate in gates for net in gate.inputs]),
        gate_open=_array([opens[gate.part] for gate in gates]),
        gate_net=_array([net_row[gate.output] for gate in gates]),
        driver_start=_starts(map(len, drivers)),
        driver=_array([one for row in drivers for one in row]),
        reader_start=_starts(map(len, readers)),
        reader=_array([one for row in readers for one in row]),
        register_net=_array([net_row[r.reads()[role]] if role in r.reads() else -1
                             for r in netlist.registers for role in ROLES]).reshape(-1, 4),
        register_drives=_array([net_row[r.drives()[role]] if role in r.drives() else -1
                                for r in netlist.registers for role in ("output", "inverse")]).reshape(-1, 2),
        register_open=_array([opens[one.part] for one in netlist.registers]),
        register_latch=np.array([one.kind == "latch" for one in netlist.registers], bool),
        register_falling=np.array([one.falling for one in netlist.registers], bool),
        watcher_start=_starts(map(len, watchers)),
        watcher=_array([one for row in watchers for one in row]),
        input_net=_array([net_row[net] for net in netlist.inputs]),
        pull=_array([{"": 0, "0": 1, "1": 2}[netlist.pulls.get(net, "")] for net in netlist.nets]),
        reads=_bites(n_inputs + 4 * len(netlist.registers), {read_place(p): c for p, c in changes.reads.items()}),
        drives=_bites(n_drives, {drive_place(p): c for p, c in changes.drives.items()}),
        nets=_bites(len(netlist.nets), {net_row[net]: c for net, c in changes.nets.items()}),
        unpulled=_bites(len(netlist.nets), {net_row[n]: dict.fromkeys(sets, "Z") for n, sets in unpulled.items()}),
        **_bridges(changes, net_row),
    )  # fmt: skip


def _plain(kind: str) -> str:
    return "and" if kind == "buf" else kind


def _parts(netlist: LogicNetlist) -> set[str]:
    return {gate.part for gate in netlist.gates} | {register.part for register in netlist.registers}


def _array(numbers: Sequence[int]) -> Integers:
    return np.array(numbers, np.int32)


def _starts(counts: Iterable[int]) -> Integers:
    return np.concatenate([[0], np.cumsum(list(counts))]).astype(np.int32)


def _byte(fault_set: int) -> tuple[int, int]:
    """Word of a fault set and its byte there."""
    return fault_set // 8, 0xFF << 8 * (fault_set % 8)


def _bites(places: int, changes: dict[int, dict[int, str]]) -> Bites:
    rows = [(*_byte(one), value) for place in sorted(changes) for one, value in sorted(changes[place].items())]
    counts = [len(changes.get(place, ())) for place in range(places)]
    masks = np.array([mask for _, mask, _ in rows], np.uint64)
    return Bites(
        _starts(counts),
        _array([word for word, _, _ in rows]),
        masks,
        np.where([value in "1X" for _, _, value in rows], masks, np.uint64(0)) if rows else masks,
        np.where([value in "0X" for _, _, value in rows], masks, np.uint64(0)) if rows else masks,
    )


def _bridges(changes: Overrides, net_row: dict[str, int]) -> dict[str, Any]:
    by_row = {net_row[net]: rows for net, rows in changes.bridges.items()}
    rows = [(*_byte(one), net_row[other], WINNERS.index(winner))
            for row in sorted(by_row) for one, other, winner in by_row[row]]  # fmt: skip
    return {
        "bridge_start": _starts(len(by_row.get(row, ())) for row in range(len(net_row))),
        "bridge_word": _array([row[0] for row in rows]),
        "bridge_mask": np.array([row[1] for row in rows], np.uint64),
        "bridge_other": _array([row[2] for row in rows]),
        "bridge_winner": _array([row[3] for row in rows]),
    }
