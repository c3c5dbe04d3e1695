"""The logic of a board: gates and registers of its chips, with what resistors, rails and connectors mean to them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from kilter.circuit.board import GROUND, Board
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.parts.catalogue import CataloguePin, CatalogueType, catalogue_types, find_type
from kilter.records.part import Part
from kilter.simulate.logic.chip_logic import ChipLogic, unknown_source
from kilter.simulate.logic.netlist import Chip, Gate, LogicNetlist

CHIP_KINDS = ("chip", "logic", "counter", "memory", "rom", "processor", "custom", "oscillator", "opamp")
SUPPLY_NAMES = {"vcc": "supply", "gnd": "ground"}
"""Pins that an importer has renamed because their nets told what they are."""


Maker = Callable[[str, CatalogueType, Mapping[str, str]], ChipLogic]
"""What builds one chip from its reference, type and the nets on its pins."""


def logic_netlist(
    board: Board, *, types: Mapping[str, str] | None = None, inputs: Sequence[str] = (), maker: Maker = ChipLogic
) -> LogicNetlist:
    """
    The logic netlist of a board whose parts carry types and pins by number.

    A chip whose type the catalogue lacks, or whose function it does not know, drives the unknown on every pin that may
    drive: what it does is never taken as fine. Outputs are all nets that a chip drives.

    Args:
        board: As an importer gives it.
        types: Part reference to catalogue key, where the value of the part does not tell or tells wrongly.
        inputs: Nets that the outside world may drive although a chip on the board drives them too: a bus at a plug.
        maker: Builds each chip; another one may know more of what a processor or memory does.
    """
    chips = chip_types(board, types or {})
    supplies = _supplies(board, chips)
    joined = _joined_by_resistors(board, supplies)
    built = [_built(board.parts[ref], found, joined, supplies, maker) for ref, found in chips.items()]
    gates = [gate for chip in built for gate in chip.gates]
    registers = [register for chip in built for register in chip.registers]
    driven = {gate.output for gate in gates} | {net for one in registers for net in one.drives().values()}
    read = {net for gate in gates for net in gate.inputs} | {net for one in registers for net in one.reads().values()}
    levels = {net: kind for net, kind in supplies.items() if net in read}
    undriven = [net for net in read - driven - set(levels) if _comes_from_outside(board, net, chips, joined)]
    on_board = {joined.get(net, net) for net in board.nets()}
    return LogicNetlist(
        gates=(*gates, *(Gate(kind, (), net) for net, kind in sorted(levels.items()))),
        inputs=tuple(dict.fromkeys([*(joined.get(net, net) for net in inputs), *sorted(undriven)])),
        outputs=tuple(sorted(driven & on_board)),
        registers=(*registers, unknown_source()),
        chips={ref: _chip(board.parts[ref], found) for ref, found in chips.items()},
        pulls=_pulls(board, supplies, joined),
        name=board.name,
    )


def joined_nets(board: Board) -> dict[str, str]:
    """Net to the net that stands for it in the logic, for nets that a small resistor joins to another one."""
    return _joined_by_resistors(board, _supplies(board, chip_types(board, {})))


def chip_types(board: Board, types: Mapping[str, str]) -> dict[str, CatalogueType | None]:
    """
    Reference of each chip to its type; None where the catalogue has none.

    Raises:
        BadInput: A type that was asked for is not in the catalogue.
    """
    found: dict[str, CatalogueType | None] = {}
    for part in board.parts.values():
        if part.ref in types:
            found[part.ref] = _asked_for(part.ref, types[part.ref])
        elif part.kind in CHIP_KINDS:
            found[part.ref] = find_type(part.value)
    return found


def _asked_for(ref: str, key: str) -> CatalogueType:
    if (found := find_type(key) or catalogue_types().get(key)) is not None:
        return found
    raise BadInput(
        f"Cannot build the logic of {ref}", f"the type '{key}'", "a type of the catalogue, such as 74138 or Z80",
        "Correct the type, or leave it out: an unknown chip is taken to drive the unknown.",
    )  # fmt: skip


def _built(
    part: Part, found: CatalogueType | None, joined: Mapping[str, str], supplies: Mapping[str, str], maker: Maker
) -> ChipLogic:
    nets = {pin: joined.get(net, net) for pin, net in part.pins.items() if pin not in SUPPLY_NAMES}
    chip = maker(part.ref, found if found and found.pins else _anything(nets, supplies), nets)
    if chip.type.function not in table("logic/board")["outside"]:
        chip.build()
    return chip


def _anything(nets: Mapping[str, str], supplies: Mapping[str, str]) -> CatalogueType:
    """A type of which nothing is known: every pin that is not on a supply may drive."""
    pins = {
        pin: CataloguePin(pin, pin, "none" if net in supplies else "both", "none" if net in supplies else "both")
        for pin, net in nets.items()
    }
    return CatalogueType("", "unknown chip", "unknown", "chip", "nmos", pins)


def _supplies(board: Board, chips: Mapping[str, CatalogueType | None]) -> dict[str, str]:
    """Supply and ground nets to 'one' and 'zero': the board's rails and where the supply pins of known chips are."""
    found = {rail.net: "one" for rail in board.rails.values() if rail.nominal > 0}
    for ref, kind in chips.items():
        pins = board.parts[ref].pins
        for pin in kind.with_role("supply", "ground") if kind and kind.technology else ():
            if pin.number in pins:
                found.setdefault(pins[pin.number], "one" if pin.role == "supply" else "zero")
        for name, role in SUPPLY_NAMES.items():
            if name in pins:
                found.setdefault(pins[name], "one" if role == "supply" else "zero")
    return found | {GROUND: "zero"}


def _joined_by_resistors(board: Board, supplies: Mapping[str, str]) -> dict[str, str]:
    """Net to the net that stands for it, where a small resistor joins two signals."""
    most = float(table("logic/board")["series_most"])
    stands: dict[str, str] = {}

    def root(net: str) -> str:
        while net in stands:
            net = stands[net]
        return net

    for part in _resistors(board):
        first, second = (root(net) for net in part.pins.values())
        small = part.number is not None and part.number <= most
        if small and first != second and not {first, second} & set(supplies):
            stands[max(first, second)] = min(first, second)
    return {net: root(net) for net in stands}


def _pulls(board: Board, supplies: Mapping[str, str], joined: Mapping[str, str]) -> dict[str, str]:
    """Net to '0' or '1'; a net that is pulled both ways is pulled neither way."""
    most = float(table("logic/board")["pull_most"])
    found: dict[str, set[str]] = {}
    for part in board.parts.values():
        if part.kind not in ("resistor", "composition", "resistor_network") or (part.number or 0.0) > most:
            continue
        levels = {supplies[net] for net in part.pins.values() if net in supplies}
        for net in part.pins.values():
            if net not in supplies:
                found.setdefault(joined.get(net, net), set()).update("1" if level == "one" else "0" for level in levels)
    return {net: next(iter(levels)) for net, levels in sorted(found.items()) if len(levels) == 1}


def _comes_from_outside(
    board: Board, net: str, chips: Mapping[str, CatalogueType | None], joined: Mapping[str, str]
) -> bool:
    """Whether something other than the chips, the pulls and the silent parts may bring a level to a net."""
    silent = {*table("logic/board")["silent"], "resistor", "composition", "resistor_network"}
    for part in board.parts.values():
        if net not in (joined.get(other, other) for other in part.pins.values()):
            continue
        known = chips.get(part.ref)
        clocks = known is not None and known.function in table("logic/board")["outside"]
        if clocks or (part.ref not in chips and part.kind not in silent):
            return True
    return False


def _chip(part: Part, found: CatalogueType | None) -> Chip:
    def numbers(role: str) -> tuple[str, ...]:
        known: Iterable[str] = (pin.number for pin in found.with_role(role)) if found else ()
        return tuple(pin for pin in (*known, *SUPPLY_NAMES) if pin in part.pins and SUPPLY_NAMES.get(pin, role) == role)

    technology = found.technology if found and found.technology else "nmos"
    return Chip(part.ref, technology, numbers("supply"), numbers("ground"))


def _resistors(board: Board) -> Iterable[Part]:
    return (part for part in board.parts.values() if part.kind in ("resistor", "composition") and len(part.pins) == 2)
