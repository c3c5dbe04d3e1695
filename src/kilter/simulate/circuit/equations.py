"""
The circuit equations of one board in one condition (powered or not), as stamps of named parameters.

Every number that a tolerance or a fault may move is a *parameter*; a lane of the engine is one column of parameter
values. A fault therefore never changes the pattern of the matrix: an opened resistor has conductance 0, a short is
the conductance of a bridge that is otherwise 0, an opened pin of a part made of several elements is a link whose
equation changes from 'same voltage' to 'no current'.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import GROUND, Board, Element
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of
from kilter.simulate.circuit.constants import engine_number, thermal_voltage
from kilter.simulate.circuit.junctions import one_ampere_voltage, transistor_currents
from kilter.simulate.circuit.ordering import Factorisation, factorise, match_branches

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

Key = tuple[str, ...]
"""Name of a parameter: ('g', 'R7'), ('bridge', '0', 'vcc'), ('link', 'U1', 'out'), ('is', 'D2') ..."""


DYNAMIC = frozenset(
    (
        "cjo",
        "cj0",
        "cje",
        "cjc",
        "cjs",
        "tf",
        "tr",
        "tt",
        "vj",
        "vje",
        "vjc",
        "m",
        "mje",
        "mjc",
        "fc",
        "xtb",
        "xti",
        "eg",
    )
)
"""Model numbers that a direct-current answer at one temperature does not need."""

DIODE_NUMBERS = frozenset(("is", "n", "bv", "ibv", "rs"))
TRANSISTOR_NUMBERS = frozenset(
    ("is", "bf", "br", "nf", "nr", "vaf", "var", "ikf", "ikr", "ise", "ne", "isc", "nc", "polarity", "rb", "rc", "re")
)


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


@dataclass
class _Writer:
    """What is collected while the elements are walked."""

    nodes: dict[str, int] = field(default_factory=dict)
    branches: dict[str, int] = field(default_factory=dict)
    branch_nodes: list[tuple[str, list[str]]] = field(default_factory=list)
    parameter: dict[Key, int] = field(default_factory=dict)
    nominal: list[float] = field(default_factory=list)
    matrix: list[tuple[object, object, Key, float]] = field(default_factory=list)
    reactive: list[tuple[object, object, Key, float]] = field(default_factory=list)
    sources: list[tuple[object, Key, float]] = field(default_factory=list)
    diodes: list[tuple[str, str, float, Key]] = field(default_factory=list)
    transistors: list[tuple[tuple[str, str, str], tuple[float, ...], Key]] = field(default_factory=list)
    edges: list[tuple[str, str, Key]] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)

    def number(self, key: Key, value: float) -> Key:
        """A parameter with its nominal value."""
        if key not in self.parameter:
            self.parameter[key] = len(self.nominal)
            self.nominal.append(value)
        return key

    def admittance(self, a: str, b: str, key: Key, into: list[tuple[object, object, Key, float]]) -> None:
        """The four stamps of a two-terminal admittance."""
        into += [(a, a, key, 1.0), (b, b, key, 1.0), (a, b, key, -1.0), (b, a, key, -1.0)]


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
    writer = _Writer()
    inner = _link_pins(board, writer)
    for element in board.elements.values():
        if element.stands_for_chip and not powered:
            continue
        placed = tuple(inner.get((element.part, node), node) for node in element.nodes)
        _STAMP[element.kind](writer, element, placed, powered)
    for part in board.parts.values():
        for mode in modes_of(part):
            for change in mode.circuit:
                if change.verb == "bridge" and all(pin in part.pins for pin in change.pins):
                    _bridge(writer, change.pins, part.pins)
    for a, b in pairs:
        key = writer.number(("meter", a, b), 0.0)
        writer.admittance(a, b, key, writer.matrix)
        writer.edges.append((a, b, key))
        source = writer.number(("meter current", a, b), 0.0)
        writer.sources += [(a, source, 1.0), (b, source, -1.0)]
    return _finish(writer)


def _link_pins(board: Board, writer: _Writer) -> dict[tuple[str, str], str]:
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
            writer.branches[name] = len(writer.branches)
            writer.branch_nodes.append((name, [node, net]))
            closed = writer.number(("link", part.ref, pin), 1.0)
            opened = writer.number(("unlink", part.ref, pin), 0.0)
            branch = ("branch", name)
            writer.matrix += [(branch, net, closed, 1.0), (branch, node, closed, -1.0), (branch, branch, opened, 1.0)]
            one = writer.number(("one",), 1.0)
            writer.matrix += [(net, branch, one, 1.0), (node, branch, one, -1.0)]
            writer.edges.append((net, node, closed))
    return inner


def _bridge(writer: _Writer, pins: tuple[str, ...], nets: Mapping[str, str]) -> None:
    """A conductance of 0 between two nets, one for all the parts that may short them."""
    a, b = sorted(nets[pin] for pin in pins)
    if a == b or ("bridge", a, b) in writer.parameter:
        return
    key = writer.number(("bridge", a, b), 0.0)
    writer.admittance(a, b, key, writer.matrix)
    writer.edges.append((a, b, key))


def _resistor(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    key = writer.number(("g", element.name), 1.0 / element.value)
    writer.admittance(nodes[0], nodes[1], key, writer.matrix)
    writer.edges.append((nodes[0], nodes[1], key))


def _capacitor(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    key = writer.number(("c", element.name), element.value)
    writer.admittance(nodes[0], nodes[1], key, writer.reactive)


def _inductor(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    key = writer.number(("g", element.name), 1.0 / engine_number("coil_ohm"))
    writer.number(("l", element.name), element.value)
    writer.admittance(nodes[0], nodes[1], key, writer.matrix)
    writer.edges.append((nodes[0], nodes[1], key))


def _diode(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    model = element.model
    saturation = model["is"] * element.value
    emission = thermal_voltage() * model.get("n", 1.0)
    key = writer.number(("is", element.name), saturation)
    writer.number(("bv", element.name), one_ampere_voltage(model, saturation))
    writer.diodes.append((nodes[0], nodes[1], emission, key))
    writer.edges.append((nodes[0], nodes[1], key))
    _note_ignored(writer, element, DIODE_NUMBERS)


def _transistor(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:  # noqa: ARG001
    model = element.model
    vt = thermal_voltage()
    transport, forward, reverse = transistor_currents(model, element.value)
    key = writer.number(("transport", element.name), transport)
    base_emitter = writer.number(("be", element.name), forward)
    base_collector = writer.number(("bc", element.name), reverse)
    numbers = (
        model.get("polarity", 1.0),
        vt * model.get("nf", 1.0),
        vt * model.get("nr", 1.0),
        *(1.0 / (model.get(name) or np.inf) for name in ("vaf", "var", "ikf", "ikr")),
    )
    collector, base, emitter = nodes[:3]
    writer.transistors.append(((collector, base, emitter), numbers, key))
    for name, far, emission in (("ise", emitter, model.get("ne", 1.5)), ("isc", collector, model.get("nc", 2.0))):
        if model.get(name):
            leak = writer.number((name, element.name), model[name] * element.value)
            writer.number(("bv", element.name, name), np.inf)
            ends = (base, far) if numbers[0] > 0 else (far, base)
            writer.diodes.append((*ends, vt * emission, leak))
    writer.edges += [(base, emitter, base_emitter), (base, collector, base_collector), (collector, emitter, key)]
    _note_ignored(writer, element, TRANSISTOR_NUMBERS)


def _voltage(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:
    if not powered:
        return
    branch = _branch(writer, element.name, nodes)
    writer.sources.append((branch, writer.number(("v", element.name), element.value), 1.0))
    writer.edges.append((nodes[0], nodes[1], ("one",)))


def _controlled_voltage(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:
    if not powered:
        return
    branch = _branch(writer, element.name, nodes)
    gain = writer.number(("gain", element.name), element.value)
    if element.kind == "E":
        writer.matrix += [(branch, nodes[2], gain, -1.0), (branch, nodes[3], gain, 1.0)]
    else:
        writer.matrix.append((branch, ("branch", element.control), gain, -1.0))
    writer.edges.append((nodes[0], nodes[1], ("one",)))


def _branch(writer: _Writer, name: str, nodes: tuple[str, ...]) -> Key:
    writer.branches[name] = len(writer.branches)
    writer.branch_nodes.append((name, [node for node in nodes[:2] if node != GROUND]))
    branch, one = ("branch", name), writer.number(("one",), 1.0)
    writer.matrix += [(branch, nodes[0], one, 1.0), (branch, nodes[1], one, -1.0)]
    writer.matrix += [(nodes[0], branch, one, 1.0), (nodes[1], branch, one, -1.0)]
    return branch


def _current(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:
    if powered:
        key = writer.number(("i", element.name), element.value)
        writer.sources += [(nodes[0], key, -1.0), (nodes[1], key, 1.0)]


def _controlled_current(writer: _Writer, element: Element, nodes: tuple[str, ...], powered: bool) -> None:
    if not powered:
        return
    gain = writer.number(("gain", element.name), element.value)
    if element.kind == "G":
        inputs: list[tuple[object, float]] = [(nodes[2], 1.0), (nodes[3], -1.0)]
    else:
        inputs = [(("branch", element.control), 1.0)]
    for place, sign in inputs:
        writer.matrix += [(nodes[0], place, gain, sign), (nodes[1], place, gain, -sign)]


_STAMP = {
    "R": _resistor,
    "C": _capacitor,
    "L": _inductor,
    "D": _diode,
    "Q": _transistor,
    "V": _voltage,
    "I": _current,
    "E": _controlled_voltage,
    "H": _controlled_voltage,
    "G": _controlled_current,
    "F": _controlled_current,
}


def _note_ignored(writer: _Writer, element: Element, known: frozenset[str]) -> None:
    dynamic = {
        "cjo",
        "cj0",
        "cje",
        "cjc",
        "tf",
        "tr",
        "tt",
        "vj",
        "vje",
        "vjc",
        "m",
        "mje",
        "mjc",
        "fc",
        "xtb",
        "xti",
        "eg",
        "kf",
        "af",
        "cjs",
    }
    left = [name for name in element.model if name not in known | dynamic]
    if left:
        writer.ignored.append(f"{element.name}: model numbers not used by the circuit engine: {', '.join(left)}")


def _finish(writer: _Writer) -> Equations:
    """Number the unknowns, find the pivot order and turn names into places."""
    _name_nodes(writer)
    nodes, count = writer.nodes, len(writer.nodes)
    for node in nodes:
        writer.matrix.append((node, node, writer.number(("tie", node), 0.0), 1.0))
    size = count + len(writer.branches)

    def index(place: object) -> int:
        if isinstance(place, tuple):
            if place[1] not in writer.branches:
                raise _no_control(str(place[1]))
            return count + writer.branches[place[1]]
        return nodes.get(str(place), -1)

    junctions = [list(diode[:2]) for diode in writer.diodes] + [list(entry[0]) for entry in writer.transistors]
    entries = {(index(row), index(column)) for row, column, *_ in (*writer.matrix, *writer.reactive)}
    entries |= {(index(a), index(b)) for terminals in junctions for a in terminals for b in terminals}
    entries |= {(node, node) for node in range(count)}
    kept = sorted(pair for pair in entries if -1 not in pair)
    matched = match_branches(
        [(name, [index(node) for node in ends if node != GROUND]) for name, ends in writer.branch_nodes]
    )
    pivot_row = list(range(size))
    for branch, matched_node in enumerate(matched):
        pivot_row[matched_node], pivot_row[count + branch] = count + branch, matched_node
    after: dict[int, set[int]] = {}
    for key in writer.parameter:
        if key[0] == "link":
            branch = writer.branches[f"{key[1]}.{key[2]}"]
            taken = matched[branch]
            after.setdefault(taken, set()).add(count + branch)
            for other in map(index, writer.branch_nodes[branch][1]):
                if other >= 0 and other not in matched:
                    after.setdefault(other, set()).add(taken)
    lu = factorise(size, kept, pivot_row, after)
    column_place = np.append(np.argsort(lu.column_at), size)
    row_place = np.append(np.argsort(lu.row_at), size)

    def slot(row: object, column: object) -> int:
        return lu.slot_of.get((index(row), index(column)), lu.slots)

    def stamps(table: list[tuple[object, object, Key, float]]) -> tuple[Integers, Integers, Floats]:
        rows = [(slot(row, column), writer.parameter[key], sign) for row, column, key, sign in table]
        rows = [row for row in rows if row[0] != lu.slots]
        return _columns(rows)

    return Equations(
        lu=lu,
        node_place={name: int(column_place[number]) for name, number in nodes.items()} | {GROUND: size},
        branch_place={name: int(column_place[count + number]) for name, number in writer.branches.items()},
        parameter=writer.parameter,
        nominal=np.array(writer.nominal),
        matrix_stamps=stamps(writer.matrix),
        reactive_stamps=stamps(writer.reactive),
        source_stamps=_columns(
            [
                (int(row_place[index(row)]), writer.parameter[key], sign)
                for row, key, sign in writer.sources
                if index(row) >= 0
            ]
        ),
        diodes=_places(column_place, [[index(node) for node in entry[:2]] for entry in writer.diodes], 2),
        diode_rows=_places(row_place, [[index(node) for node in entry[:2]] for entry in writer.diodes], 2),
        diode_slots=_slots(slot, [entry[:2] for entry in writer.diodes], 2),
        diode_vt=np.array([entry[2] for entry in writer.diodes]),
        diode_parameter=np.array([writer.parameter[entry[3]] for entry in writer.diodes], dtype=np.int64),
        transistors=_places(column_place, [[index(node) for node in entry[0]] for entry in writer.transistors], 3),
        transistor_rows=_places(row_place, [[index(node) for node in entry[0]] for entry in writer.transistors], 3),
        transistor_slots=_slots(slot, [entry[0] for entry in writer.transistors], 3),
        transistor_numbers=np.array([entry[1] for entry in writer.transistors]).reshape(-1, 7),
        transistor_parameter=np.array([writer.parameter[entry[2]] for entry in writer.transistors], dtype=np.int64),
        edges=tuple((a, b, writer.parameter[key]) for a, b, key in writer.edges),
        entry_slot=np.array([lu.slot_of[pair] for pair in kept], dtype=np.int64),
        entry_row=row_place[[pair[0] for pair in kept]],
        entry_column=column_place[[pair[1] for pair in kept]],
        ignored=tuple(writer.ignored),
    )


def _name_nodes(writer: _Writer) -> None:
    places = [place for row in (*writer.matrix, *writer.reactive) for place in row[:2]]
    places += [row[0] for row in writer.sources]
    places += [node for entry in writer.diodes for node in entry[:2]]
    places += [node for entry in writer.transistors for node in entry[0]]
    for place in places:
        if isinstance(place, str) and place != GROUND:
            writer.nodes.setdefault(place, len(writer.nodes))


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
