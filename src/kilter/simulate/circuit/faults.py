"""
What a state and a hypothesis do to a circuit, said twice and independently.

`apply_faults` rewrites the elements (a pin is opened by moving it to a net of its own), which is what ngspice is
given. `changes` moves parameters of the engine's equations. The tests compare the two.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import cache

from kilter.circuit.board import GROUND, Board, Element, State
from kilter.measure.errors import BadInput
from kilter.parts.kinds import Change, Mode, modes_of
from kilter.records.part import Part
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.draft import Key
from kilter.simulate.circuit.equations import Equations
from kilter.simulate.circuit.junctions import one_ampere_voltage, open_transistor
from kilter.simulate.circuit.sizes import BRIDGE, size_key
from kilter.simulate.prediction import Fault, Hypothesis

Move = tuple[int, str, float]
"""Parameter number, 'set', 'scale' or 'add', amount; or 'times' and the number of another parameter."""

DRIVEN = frozenset("VIEFGH")
"""Elements that an unpowered object does not have."""


@cache
def _modes_by_key(
    ref: str, kind: str, pins: tuple[tuple[str, str], ...], value: str, number: float | None, drifts: tuple[float, ...]
) -> Mapping[str, Mode]:
    part = Part(ref, kind, dict(pins), value, number, drifts=drifts)
    return {mode.key: mode for mode in modes_of(part)}


def mode_of(board: Board, ref: str, key: str) -> Mode:
    """
    The mode of that key of that part.

    Raises:
        BadInput: No such part or mode; the message lists what there is.
    """
    if ref not in board.parts:
        raise BadInput(
            f"Cannot apply the fault {ref}:{key}", f"the part '{ref}'", ", ".join(board.parts), "Correct it."
        )
    part = board.parts[ref]
    modes = _modes_by_key(ref, part.kind, tuple(part.pins.items()), part.value, part.number, part.drifts)
    if key not in modes:
        raise BadInput(f"Cannot apply the fault {ref}:{key}", f"the mode '{key}'", ", ".join(modes), "Correct it.")
    return modes[key]


def present_faults(state: State, hypothesis: Hypothesis) -> Hypothesis:
    """The faults that still count in a state: those of parts neither renewed nor unplugged."""
    return frozenset(fault for fault in hypothesis if fault[0] not in state.renewed | state.unplugged)


def circuit_changes(board: Board, state: State, hypothesis: Hypothesis) -> list[tuple[Part, Change]]:
    """Every circuit change of the state's lifted pins and of the faults present, in a fixed order."""
    found = _lifted(board, state)
    for ref, key in sorted(present_faults(state, hypothesis)):
        found += _of_mode(board, state, ref, key)
    return found


def _lifted(board: Board, state: State) -> list[tuple[Part, Change]]:
    places = (place.partition(".") for place in sorted(state.lifted))
    return [(board.parts[ref], Change("open", (pin,))) for ref, _, pin in places]


def _of_mode(board: Board, state: State, ref: str, key: str) -> list[tuple[Part, Change]]:
    """The changes of one fault whose pins the part has; a lifted pin is open already and takes shorts off the board."""
    mode, part = mode_of(board, ref, key), board.parts[ref]
    off = {pin for pin in part.pins if f"{ref}.{pin}" in state.lifted}
    pins = part.pins.keys() - off
    return [(part, change) for change in mode.circuit if pins.issuperset(change.pins)]


def apply_faults(board: Board, state: State, hypothesis: Hypothesis) -> list[Element]:
    """The elements as they stand in a state under a hypothesis, for any simulator."""
    return apply_changes(board, state, circuit_changes(board, state, hypothesis))


def apply_changes(board: Board, state: State, wanted: Iterable[tuple[Part, Change]]) -> list[Element]:
    """The elements as they stand in a state after these changes, which a caller may have made larger or smaller."""
    elements = [e for e in board.elements.values() if e.part not in state.unplugged or not e.part]
    if not state.powered:
        elements = [e for e in elements if e.kind not in DRIVEN and not e.stands_for_chip]
    elements = [_set_source(board, state, element) for element in elements]
    for number, (part, change) in enumerate(wanted):
        elements = _REWRITE[change.verb](elements, part, change, number)
    return elements


def _set_source(board: Board, state: State, element: Element) -> Element:
    if element.kind in "VI" and element.name in state.supplies:
        return replace(element, value=state.supplies[element.name])
    closed = state.modes.get(element.part)
    if closed and element.kind == "R" and board.parts[element.part].kind == "switch":
        return replace(element, value=engine_number("bridge_ohm") if closed == "closed" else engine_number("open_ohm"))
    return element


def _open(elements: list[Element], part: Part, change: Change, number: int) -> list[Element]:
    net = part.pins[change.pins[0]]
    apart = f"{part.ref}.{change.pins[0]}!{number}"

    def moved(element: Element) -> Element:
        if element.part != part.ref:
            return element
        return replace(element, nodes=tuple(apart if node == net else node for node in element.nodes))

    return [*map(moved, elements), Element(f"R_{apart}", "R", (apart, GROUND), engine_number("dangling_ohm"))]


def _bridge(elements: list[Element], part: Part, change: Change, number: int) -> list[Element]:
    a, b = (part.pins[pin] for pin in change.pins)
    return [*elements, Element(f"R_{part.ref}!{number}", "R", (a, b), change.amount)] if a != b else elements


def _rescale(elements: list[Element], part: Part, change: Change, number: int) -> list[Element]:  # noqa: ARG001
    def moved(element: Element) -> Element:
        if element.part != part.ref:
            return element
        if change.number == "value" and element.kind in "RCLD":
            return replace(element, value=_amount(change, element.value))
        if change.number == "gain" and element.kind in "EGFH":
            return replace(element, value=_amount(change, element.value))
        if change.number in element.model:
            model = dict(element.model) | {change.number: _amount(change, element.model[change.number])}
            return replace(element, model=model)
        return element

    return list(map(moved, elements))


def _amount(change: Change, value: float) -> float:
    return value * change.amount if change.verb == "scale" else change.amount


_REWRITE: Mapping[str, Callable[[list[Element], Part, Change, int], list[Element]]] = {
    "open": _open,
    "bridge": _bridge,
    "scale": _rescale,
    "set": _rescale,
}


def state_moves(board: Board, equations: Equations, state: State) -> list[Move]:
    """The moves of a state: its supplies and switches, what is unplugged and what is lifted."""
    moves: list[Move] = []
    for element in board.elements.values():
        placed = _set_source(board, state, element)
        if placed is not element:
            key = ("g", element.name) if element.kind == "R" else (element.kind.lower(), element.name)
            moves += _set(equations, key, 1.0 / placed.value if element.kind == "R" else placed.value)
    for ref in sorted(state.unplugged & set(board.parts)):
        for pin in board.parts[ref].pins:
            moves += _open_moves(board, equations, board.parts[ref], pin)
    for part, change in _lifted(board, state):
        moves += _open_moves(board, equations, part, change.pins[0])
    return moves


def fault_moves(board: Board, equations: Equations, state: State, fault: Fault) -> list[Move]:
    """The moves of one fault in a state."""
    ref, key = fault
    moves: list[Move] = []
    for part, change in _of_mode(board, state, ref, key):
        if change.verb == "open":
            moves += _open_moves(board, equations, part, change.pins[0])
        elif change.verb == "bridge":
            moves += _bridge_moves(equations, part, change)
        else:
            moves += _number_moves(board, equations, part, change)
    return moves


def changes(board: Board, equations: Equations, state: State, hypothesis: Hypothesis) -> list[Move]:
    """The moves of a state and of the faults present in it: what `apply_faults` does, said again."""
    moves = state_moves(board, equations, state)
    for fault in sorted(present_faults(state, hypothesis)):
        moves += fault_moves(board, equations, state, fault)
    return moves


def _bridge_moves(equations: Equations, part: Part, change: Change) -> list[Move]:
    """Two shorts across the same nets add up."""
    a, b = sorted(part.pins[pin] for pin in change.pins)
    key = ("bridge", a, b)
    if key not in equations.parameter:
        return []
    number = equations.parameter[key]
    return [(number, "add", 1.0 / change.amount), (number, "times", equations.parameter[BRIDGE])]


def _set(equations: Equations, key: Key, amount: float) -> list[Move]:
    return [(equations.parameter[key], "set", amount)] if key in equations.parameter else []


def _open_moves(board: Board, equations: Equations, part: Part, pin: str) -> list[Move]:
    if ("link", part.ref, pin) in equations.parameter:
        return _set(equations, ("link", part.ref, pin), 0.0) + _set(equations, ("unlink", part.ref, pin), 1.0)
    elements = elements_of(board, part.ref)
    if len(elements) != 1:
        return [move for twin in _same_net(part, pin) for move in _open_moves(board, equations, part, twin)]
    if part.pins[pin] not in elements[0].nodes:
        return []  # a signal pin of a chip of which the circuit knows the supply current only
    return _open_element(
        equations, elements[0], [t for t, node in zip("cbe", elements[0].nodes, strict=False) if node == part.pins[pin]]
    )


def _same_net(part: Part, pin: str) -> list[str]:
    """The first pin of the part on the same net, which carries the link of both."""
    first = next(other for other, net in part.pins.items() if net == part.pins[pin])
    return [first] if first != pin else []


def elements_of(board: Board, ref: str) -> list[Element]:
    """The elements of one part."""
    return [element for element in board.elements.values() if element.part == ref]


def _open_element(equations: Equations, element: Element, terminals: list[str]) -> list[Move]:
    name = element.name
    if element.kind in "RL":
        return _set(equations, ("g", name), 0.0)
    if element.kind == "C":
        return _set(equations, ("c", name), 0.0)
    if element.kind == "D":
        return _set(equations, ("is", name), 0.0) + _set(equations, ("bv", name), float("inf"))
    if element.kind == "Q":
        return [move for terminal in terminals for move in _open_terminal(equations, name, terminal)]
    return []


def _open_terminal(equations: Equations, name: str, terminal: str) -> list[Move]:
    """
    The moves that open one terminal of a transistor.

    They scale, so that two opened terminals, whoever opened them, leave nothing. A gain that is off as well scales all
    that is left and not its forward share alone, which moves readings by about a percent.
    """
    keys = [("transport", name), ("be", name), ("bc", name)]
    transport, forward, reverse = (float(equations.nominal[equations.parameter[key]]) for key in keys)
    left = open_transistor(terminal, forward, reverse, transport)
    before = (transport, forward, reverse)
    moves: list[Move] = [
        (equations.parameter[key], "scale", after / now) for key, now, after in zip(keys, before, left, strict=True)
    ]
    leaks = {"b": ("ise", "isc"), "e": ("ise",), "c": ("isc",)}
    return moves + [move for leak in leaks[terminal] for move in _set(equations, (leak, name), 0.0)]


def _number_moves(board: Board, equations: Equations, part: Part, change: Change) -> list[Move]:
    moves: list[Move] = []
    for element in elements_of(board, part.ref):
        for key, power in _number_keys(element, change.number):
            if key not in equations.parameter:
                continue
            if key[0] == "bv":
                model = dict(element.model) | {"bv": _amount(change, element.model["bv"])}
                moves += _set(equations, key, one_ampere_voltage(model, model["is"] * element.value))
            elif change.verb == "scale":
                moves.append((equations.parameter[key], "scale", change.amount**power))
                size = size_key(part, change, power)
                if size is not None:
                    moves.append((equations.parameter[key], "times", equations.parameter[size]))
            elif element.kind != "Q":
                moves.append((equations.parameter[key], "set", change.amount**power))
            else:
                ratio = change.amount / element.model[change.number]
                moves.append((equations.parameter[key], "scale", ratio**power))
    return moves


def _number_keys(element: Element, number: str) -> Iterable[tuple[Key, int]]:
    """The parameters that a number of an element moves, with the power to which it enters them."""
    name = element.name
    if number == "value":
        table: dict[str, list[tuple[Key, int]]] = {
            "R": [(("g", name), -1)],
            "C": [(("c", name), 1)],
            "L": [(("l", name), 1)],
            "D": [(("is", name), 1)],
        }
        return table.get(element.kind, [])
    if number == "gain" and element.kind in "EGFH":
        return [(("gain", name), 1)]
    if element.kind == "Q":
        return {
            "bf": [(("be", name), -1)],
            "br": [(("bc", name), -1)],
            "is": [(("transport", name), 1), (("be", name), 1), (("bc", name), 1)],
        }.get(number, [])
    if element.kind == "D" and number == "is":
        return [(("is", name), 1)]
    if element.kind == "D" and number == "bv":
        return [(("bv", name), 1)]
    return []
