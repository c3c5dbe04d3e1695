"""A board as the running engine wants it: its logic, what drives it from outside, which chips count."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property

from kilter.circuit.board import GROUND, Board
from kilter.measure.tables import table
from kilter.parts.catalogue import CatalogueType
from kilter.records.part import Part
from kilter.simulate.logic.board_netlist import chip_types, joined_nets, logic_netlist
from kilter.simulate.logic.netlist import LogicNetlist
from kilter.simulate.logic.running import Stimulus
from kilter.simulate.logic.stand_ins import maker

CLOCK_SOURCES = ("oscillator", "crystal")
"""Part kinds that bring a clock."""

RESISTORS = ("resistor", "composition", "resistor_network")


@dataclass(frozen=True)
class LiveBoard:
    """
    Args:
        board: As loaded.
        netlist: Its logic, with stand-ins for what has no equations.
        stimulus: What drives it.
        types: Reference of each chip to its type, None where the catalogue has none.
        joined: Net to the net that stands for it in the logic.
    """

    board: Board
    netlist: LogicNetlist
    stimulus: Stimulus
    types: Mapping[str, CatalogueType | None]
    joined: Mapping[str, str]

    def net(self, name: str) -> str:
        """The net of the logic that a net of the board is."""
        return self.joined.get(name, name)

    def nets_of(self, part: Part) -> list[str]:
        """The nets of a part, by their names in the logic."""
        return [self.net(net) for net in part.pins.values()]

    @cached_property
    def known_nets(self) -> frozenset[str]:
        """Nets of the board that the logic knows, supplies left out."""
        outer = {self.net(net) for net in self.board.nets()}
        return frozenset(outer & set(self.netlist.nets) - set(self.supplies))

    @cached_property
    def supplies(self) -> dict[str, str]:
        """Supply nets to '1', ground to '0'."""
        return {rail.net: "1" for rail in self.board.rails.values() if rail.nominal > 0} | {GROUND: "0"}

    @cached_property
    def counting(self) -> frozenset[str]:
        """Chips that count."""
        return frozenset(ref for ref, kind in self.types.items() if kind is not None and kind.function == "counter")

    @cached_property
    def clock_parts(self) -> frozenset[str]:
        """Chips that bring a clock from outside the logic."""
        outside = table("logic/board")["outside"]
        return frozenset(ref for ref, kind in self.types.items() if kind is not None and kind.function in outside)

    @cached_property
    def processor_data(self) -> frozenset[str]:
        """Nets on the data pins of processors."""
        found = set()
        for ref, kind in self.types.items():
            if kind is not None and kind.function == "processor":
                pins = self.board.parts[ref].pins
                found |= {self.net(pins[pin.number]) for pin in kind.with_role("data") if pin.number in pins}
        return frozenset(found & self.known_nets)

    def slow(self, steady: Collection[str]) -> frozenset[str]:
        """Nets that hang on a counter which moves too slowly to be run to its end; `steady` nets move all the time."""
        pins = [places for ref in self.counting for places in self.netlist.pin_drivers.get(ref, {}).values()]
        counted = [self._driven(*place) for places in pins for place in places]
        return self._beyond([net for net in counted if net not in steady], steady)

    def hanging_on(self, moving: Collection[str]) -> frozenset[str]:
        """Nets that hang on something which moves."""
        return self._beyond([onward for net in moving for onward in self._onwards.get(net, ())], ())

    def _beyond(self, ahead: list[str], stop: Collection[str]) -> frozenset[str]:
        found: set[str] = set()
        while ahead:
            net = ahead.pop()
            if net not in found and net not in stop:
                found.add(net)
                ahead += self._onwards.get(net, ())
        return frozenset(found & self.known_nets)

    def _driven(self, what: str, index: int, role: str) -> str:
        netlist = self.netlist
        return netlist.gates[index].output if what == "gate" else netlist.registers[index].drives()[role]

    @cached_property
    def _onwards(self) -> dict[str, list[str]]:
        """Net to the nets that hang on it."""
        found: dict[str, list[str]] = {}
        for gate in self.netlist.gates:
            for net in gate.inputs:
                found.setdefault(net, []).append(gate.output)
        for register in self.netlist.registers:
            for net in register.reads().values():
                found.setdefault(net, []).extend(register.drives().values())
        return found

    @cached_property
    def pulled_by(self) -> dict[str, frozenset[str]]:
        """Resistor to the nets that it pulls and nobody else does."""
        own: dict[str, set[str]] = {}
        for part in self.board.parts.values():
            if part.kind in RESISTORS:
                nets = set(self.nets_of(part))
                if nets & set(self.supplies):
                    own[part.ref] = nets & set(self.netlist.pulls) & set(self.netlist.nets)
        shared = {net for net in self.netlist.pulls if sum(net in nets for nets in own.values()) > 1}
        return {ref: frozenset(nets - shared) for ref, nets in own.items() if nets - shared}

    @cached_property
    def holds_nothing(self) -> frozenset[str]:
        """Kinds of parts that bring no level: when they are open, logic does not feel it."""
        return frozenset(table("logic/board")["silent"])


def live_board(board: Board) -> LiveBoard | None:
    """The board with its logic; None where no chip has a known function."""
    types = chip_types(board, {})
    if not any(kind is not None and kind.equations for kind in types.values()):
        return None
    joined = joined_nets(board)
    clocks, resets = _clocks(board, types, joined), _resets(board, types, joined)
    netlist = logic_netlist(board, inputs=(*clocks, *resets), maker=maker(int(table("logic/running")["seed"])))
    return LiveBoard(board, _with_clocks(netlist, clocks), Stimulus(clocks, resets), types, joined)


def _clocks(board: Board, types: Mapping[str, CatalogueType | None], joined: Mapping[str, str]) -> tuple[str, ...]:
    """Nets that a clock source drives: outputs of oscillators, both ends of crystals."""
    supplies = {rail.net for rail in board.rails.values()} | {GROUND}
    found: dict[str, None] = {}
    for part in board.parts.values():
        kind = types.get(part.ref)
        outputs = {pin.number for pin in kind.with_role("clock_out")} if kind else set()
        brings = kind is not None and kind.function in table("logic/board")["outside"]
        for pin, net in part.pins.items():
            if net not in supplies and ((brings and pin in outputs) or (not kind and part.kind in CLOCK_SOURCES)):
                found[joined.get(net, net)] = None
    return tuple(found)


def _resets(board: Board, types: Mapping[str, CatalogueType | None], joined: Mapping[str, str]) -> dict[str, int]:
    """Nets that a resistor and a capacitor bring up late, to their level while the board is reset."""
    driven = {joined.get(net, net) for ref, kind in types.items() if kind for pin, net in board.parts[ref].pins.items()
              if pin in kind.pins and kind.pins[pin].may_drive}  # fmt: skip
    rails = {rail.net for rail in board.rails.values() if rail.nominal > 0}
    pulled: dict[str, int] = {}
    held: dict[str, int] = {}
    for part in board.parts.values():
        if len(part.pins) != 2:
            continue
        for net, other in (tuple(part.pins.values()), tuple(part.pins.values())[::-1]):
            level = 1 if other in rails else 0 if other == GROUND else None
            if level is None or net in rails or net == GROUND:
                continue
            if part.kind in RESISTORS:
                pulled[joined.get(net, net)] = level
            elif part.kind in table("logic/board")["silent"]:
                held[joined.get(net, net)] = level
    return {net: level for net, level in sorted(held.items()) if pulled.get(net) == 1 - level and net not in driven}


def _with_clocks(netlist: LogicNetlist, clocks: tuple[str, ...]) -> LogicNetlist:
    """The netlist with the gates that keep a crystal going left out: the clock itself is given."""
    from dataclasses import replace

    gates = tuple(gate for gate in netlist.gates if gate.output not in clocks)
    return replace(netlist, gates=gates, inputs=tuple(dict.fromkeys([*clocks, *netlist.inputs])))
