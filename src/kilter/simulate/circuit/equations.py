"""
The circuit equations of one board in one condition (powered or not), as stamps of named parameters.

Every number that a tolerance or a fault may move is a *parameter*; a lane of the engine is one column of parameter
values. A fault therefore never changes the pattern of the matrix: an opened resistor has conductance 0, a short is
the conductance of a bridge that is otherwise 0, an opened pin of a part made of several elements is a link whose
equation changes from 'same voltage' to 'no current'.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import GROUND, Board
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of
from kilter.simulate.circuit.draft import Draft, Key
from kilter.simulate.circuit.element_stamps import STAMPS
from kilter.simulate.circuit.ordering import Factorisation, factorise, match_branches
from kilter.simulate.circuit.sizes import POWERS, size_key

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class Equations:
    """
    Unknowns, parameters, stamps and the LU recipe.

    Stamps add `sign * parameter` to a matrix slot or a right-hand-side row. Rows and unknowns are places in the pivot
    order; ground is the place after the last, and its slots are the bin. `diodes` holds anode and cathode,
    `transistors` collector, base and emitter, `transistor_numbers` polarity, forward and reverse n*kT/q [V], 1/VAF,
    1/VAR [1/V], 1/IKF and 1/IKR [1/A]. The parameters of a diode are two neighbours (saturation current, reverse
    voltage at 1 A), those of a transistor three (transport, base-emitter and base-collector saturation currents).
    """

    lu: Factorisation
    node_place: dict[str, int]
    branch_place: dict[str, int]
    parameter: dict[Key, int]
    nominal: Floats
    matrix_stamps: tuple[Integers, Integers, Floats]
    source_stamps: tuple[Integers, Integers, Floats]
    reactive_stamps: tuple[Integers, Integers, Floats]
    diodes: Integers
    diode_rows: Integers
    diode_slots: Integers
    diode_vt: Floats
    diode_parameter: Integers
    transistors: Integers
    transistor_rows: Integers
    transistor_slots: Integers
    transistor_numbers: Floats
    transistor_parameter: Integers
    edges: tuple[tuple[str, str, int], ...]
    entry_slot: Integers
    entry_row: Integers
    entry_column: Integers
    ignored: tuple[str, ...] = ()


def write_equations(board: Board, *, powered: bool, pairs: Iterable[tuple[str, str]] = ()) -> Equations:
    """
    Set up the equations.

    Args:
        board: With elements.
        powered: False leaves out every source and every controlled source: an unpowered chip drives nothing.
        pairs: Net pairs between which a meter will be laid; each becomes a bridge ('meter', a, b) of 0 S.

    Raises:
        BadInput: Sources in a loop, or a control source that is not there.
    """
    draft = Draft()
    inner = _link_pins(board, draft)
    for element in board.elements.values():
        if element.stands_for_chip and not powered:
            continue
        placed = tuple(inner.get((element.part, node), node) for node in element.nodes)
        STAMPS[element.kind](draft, element, placed, powered)
    for part in board.parts.values():
        for mode in modes_of(part):
            for change in mode.circuit:
                if change.verb == "bridge" and all(pin in part.pins for pin in change.pins):
                    _bridge(draft, change.pins, part.pins)
                for key in (size_key(part, change, power) for power in POWERS):
                    if key is not None:
                        draft.number(key, 1.0)
    for a, b in pairs:
        key = draft.number(("meter", a, b), 0.0)
        draft.admittance(a, b, key, draft.matrix)
        draft.edges.append((a, b, key))
        source = draft.number(("meter current", a, b), 0.0)
        draft.sources += [(a, source, 1.0), (b, source, -1.0)]
    return _finish(draft)


def _link_pins(board: Board, draft: Draft) -> dict[tuple[str, str], str]:
    """Give each pin of a part made of several elements, and shared with other parts, a node of its own."""
    elements: dict[str, int] = {}
    for element in board.elements.values():
        elements[element.part] = elements.get(element.part, 0) + 1
    inner: dict[tuple[str, str], str] = {}
    for part in board.parts.values():
        if elements.get(part.ref, 0) < 2:
            continue
        for pin, net in part.pins.items():
            if (part.ref, net) in inner:
                continue
            node = f"{part.ref}.{pin}~"
            inner[part.ref, net] = node
            name = f"{part.ref}.{pin}"
            draft.branches[name] = len(draft.branches)
            draft.branch_nodes.append((name, [node, net]))
            closed = draft.number(("link", part.ref, pin), 1.0)
            opened = draft.number(("unlink", part.ref, pin), 0.0)
            branch = ("branch", name)
            draft.matrix += [(branch, net, closed, 1.0), (branch, node, closed, -1.0), (branch, branch, opened, 1.0)]
            one = draft.number(("one",), 1.0)
            draft.matrix += [(net, branch, one, 1.0), (node, branch, one, -1.0)]
            draft.edges.append((net, node, closed))
    return inner


def _bridge(draft: Draft, pins: tuple[str, ...], nets: Mapping[str, str]) -> None:
    """A conductance of 0 between two nets, one for all the parts that may short them."""
    a, b = sorted(nets[pin] for pin in pins)
    if a == b or ("bridge", a, b) in draft.parameter:
        return
    key = draft.number(("bridge", a, b), 0.0)
    draft.admittance(a, b, key, draft.matrix)
    draft.edges.append((a, b, key))


def _finish(draft: Draft) -> Equations:
    """Number the unknowns, find the pivot order and turn names into places."""
    _name_nodes(draft)
    nodes, count = draft.nodes, len(draft.nodes)
    for node in nodes:
        draft.matrix.append((node, node, draft.number(("tie", node), 0.0), 1.0))
    size = count + len(draft.branches)

    def index(place: object) -> int:
        if isinstance(place, tuple):
            if place[1] not in draft.branches:
                raise _no_control(str(place[1]))
            return count + draft.branches[place[1]]
        return nodes.get(str(place), -1)

    junctions = [list(diode[:2]) for diode in draft.diodes] + [list(entry[0]) for entry in draft.transistors]
    entries = {(index(row), index(column)) for row, column, *_ in (*draft.matrix, *draft.reactive)}
    entries |= {(index(a), index(b)) for terminals in junctions for a in terminals for b in terminals}
    entries |= {(node, node) for node in range(count)}
    kept = sorted(pair for pair in entries if -1 not in pair)
    matched = match_branches(
        [(name, [index(node) for node in ends if node != GROUND]) for name, ends in draft.branch_nodes]
    )
    pivot_row = list(range(size))
    for branch, matched_node in enumerate(matched):
        pivot_row[matched_node], pivot_row[count + branch] = count + branch, matched_node
    after: dict[int, set[int]] = {}
    for key in draft.parameter:
        if key[0] == "link":
            branch = draft.branches[f"{key[1]}.{key[2]}"]
            taken = matched[branch]
            after.setdefault(taken, set()).add(count + branch)
            for other in map(index, draft.branch_nodes[branch][1]):
                if other >= 0 and other not in matched:
                    after.setdefault(other, set()).add(taken)
    lu = factorise(size, kept, pivot_row, after)
    column_place = np.append(np.argsort(lu.column_at), size)
    row_place = np.append(np.argsort(lu.row_at), size)

    def slot(row: object, column: object) -> int:
        return lu.slot_of.get((index(row), index(column)), lu.slots)

    def stamps(table: list[tuple[object, object, Key, float]]) -> tuple[Integers, Integers, Floats]:
        rows = [(slot(row, column), draft.parameter[key], sign) for row, column, key, sign in table]
        rows = [row for row in rows if row[0] != lu.slots]
        return _columns(rows)

    return Equations(
        lu=lu,
        node_place={name: int(column_place[number]) for name, number in nodes.items()} | {GROUND: size},
        branch_place={name: int(column_place[count + number]) for name, number in draft.branches.items()},
        parameter=draft.parameter,
        nominal=np.array(draft.nominal),
        matrix_stamps=stamps(draft.matrix),
        reactive_stamps=stamps(draft.reactive),
        source_stamps=_columns(
            [
                (int(row_place[index(row)]), draft.parameter[key], sign)
                for row, key, sign in draft.sources
                if index(row) >= 0
            ]
        ),
        diodes=_places(column_place, [[index(node) for node in entry[:2]] for entry in draft.diodes], 2),
        diode_rows=_places(row_place, [[index(node) for node in entry[:2]] for entry in draft.diodes], 2),
        diode_slots=_slots(slot, [entry[:2] for entry in draft.diodes], 2),
        diode_vt=np.array([entry[2] for entry in draft.diodes]),
        diode_parameter=np.array([draft.parameter[entry[3]] for entry in draft.diodes], dtype=np.int64),
        transistors=_places(column_place, [[index(node) for node in entry[0]] for entry in draft.transistors], 3),
        transistor_rows=_places(row_place, [[index(node) for node in entry[0]] for entry in draft.transistors], 3),
        transistor_slots=_slots(slot, [entry[0] for entry in draft.transistors], 3),
        transistor_numbers=np.array([entry[1] for entry in draft.transistors]).reshape(-1, 7),
        transistor_parameter=np.array([draft.parameter[entry[2]] for entry in draft.transistors], dtype=np.int64),
        edges=tuple((a, b, draft.parameter[key]) for a, b, key in draft.edges),
        entry_slot=np.array([lu.slot_of[pair] for pair in kept], dtype=np.int64),
        entry_row=row_place[[pair[0] for pair in kept]],
        entry_column=column_place[[pair[1] for pair in kept]],
        ignored=tuple(draft.ignored),
    )


def _name_nodes(draft: Draft) -> None:
    places = [place for row in (*draft.matrix, *draft.reactive) for place in row[:2]]
    places += [row[0] for row in draft.sources]
    places += [node for entry in draft.diodes for node in entry[:2]]
    places += [node for entry in draft.transistors for node in entry[0]]
    for place in places:
        if isinstance(place, str) and place != GROUND:
            draft.nodes.setdefault(place, len(draft.nodes))


def _columns(rows: list[tuple[int, int, float]]) -> tuple[Integers, Integers, Floats]:
    places = np.array([row[0] for row in rows], dtype=np.int64)
    return (
        places,
        np.array([row[1] for row in rows], dtype=np.int64),
        np.array([row[2] for row in rows], dtype=np.float64),
    )


def _places(table: Integers, rows: list[list[int]], width: int) -> Integers:
    return table[np.array(rows, dtype=np.int64).reshape(-1, width)]


def _slots(slot: Callable[[object, object], int], rows: Sequence[Sequence[str]], width: int) -> Integers:
    table = [[slot(a, b) for a in terminals for b in terminals] for terminals in rows]
    return np.array(table, dtype=np.int64).reshape(-1, width * width)


def _no_control(name: str) -> BadInput:
    return BadInput(
        "Cannot set up the circuit equations",
        f"a controlled source that follows the current of {name}, which is not there",
        "the name of a voltage source of the same netlist",
        "Correct the name or add the source.",
    )
