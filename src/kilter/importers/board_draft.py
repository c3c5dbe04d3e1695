"""A board while its file is being read: what is known so far, and how its names are looked up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from kilter.circuit.board import GROUND, Block, Board, Element, Point, Rail, State
from kilter.importers.known_names import KnownNames
from kilter.importers.toml_tables import Table
from kilter.records.part import Part


class Draft:
    """
    Everything read so far.

    Args:
        file: The top table.
        netlist: The board of the netlist; empty but for its name where there is none.
    """

    def __init__(self, file: Table, netlist: Board) -> None:
        self.file = file
        self.doing = file.doing
        self.netlist = netlist
        self.parts: dict[str, Part] = dict(netlist.parts)
        self.elements: dict[str, Element] = dict(netlist.elements)
        self.points: dict[str, Point] = {}
        self.rails: dict[str, Rail] = dict(netlist.rails)
        self.blocks: dict[str, Block] = {}
        self.states: dict[str, State] = {}
        self.signals: dict[str, str] = {}
        self.guesses: list[str] = list(netlist.guesses)
        self.warnings: list[str] = list(netlist.warnings)

    @property
    def has_netlist(self) -> bool:
        """Whether a netlist says which nets there are."""
        return bool(self.netlist.parts or self.netlist.elements)

    def board(self) -> Board:
        """The board as it stands."""
        return Board(
            name=self.netlist.name, parts=self.parts, elements=self.elements, points=self.points, rails=self.rails,
            blocks=self.blocks, states=self.states, guesses=tuple(self.guesses), warnings=tuple(self.warnings),
            revision=self.netlist.revision, source=self.netlist.source,
        )  # fmt: skip

    def nets(self) -> KnownNames:
        """Every net known so far, ground among them."""
        nets = [GROUND]
        nets += [node for element in self.elements.values() for node in element.nodes]
        nets += [net for part in self.parts.values() for net in part.pins.values()]
        nets += [rail.net for rail in self.rails.values()]
        return KnownNames("net", nets)

    def find_net(self, name: str, place: str, *, signals: bool = False) -> str:
        """
        A net by its name, by a rail's name, or by a signal's name where those may stand too.

        Raises:
            BadInput: There is none; the message lists near names.
        """
        nets = self.nets()
        found = self._net(name, nets) or (self.signal(name) if signals else None)
        if found is not None:
            return found
        names = [*nets.names, *self.rails, *(self.signals.values() if signals else ())]
        return KnownNames("net", names).find(name, self.doing, place)

    def net_if_known(self, name: str) -> str | None:
        """A net by its name or by a rail's name, or None."""
        return self._net(name, self.nets())

    def _net(self, name: str, nets: KnownNames) -> str | None:
        if name.lower() in (GROUND, "gnd"):
            return nets.get(name) or GROUND
        found = nets.get(name)
        if found is None and (rail := KnownNames("rail", self.rails).get(name)):
            return self.rails[rail].net
        return found

    def part(self, ref: str, place: str) -> str:
        """A part's reference as it is spelled."""
        return KnownNames("part", self.parts).find(ref, self.doing, place)

    def signal(self, name: str) -> str | None:
        """A signal of the blocks as it is spelled, or None."""
        return self.signals.get(name.lower())

    def name_signals(self) -> None:
        """Collect the signals that blocks name; one that is a net has the net's spelling."""
        nets = self.nets()
        for name in _signal_words(self.file):
            self.signals.setdefault(name.lower(), nets.get(name) or name)

    def forget_rail(self, net: str) -> None:
        """Drop what was concluded about the supply on a net, because the file itself speaks of it."""
        own = {name: rail for name, rail in self.netlist.rails.items() if rail.net == net}
        self.rails = {name: rail for name, rail in self.rails.items() if own.get(name) is not rail}
        start = (f"The net {net} is taken as a supply", f"The net {net} looks like a supply")
        self.guesses = [guess for guess in self.guesses if not guess.startswith(start)]
        self.warnings = [warning for warning in self.warnings if not warning.startswith(start)]

    def pin_uses(self) -> Counter[str]:
        """How often each net name, in lower case, stands among the pins and points that the file gives."""
        uses: Counter[str] = Counter()
        parts = self.file.values.get("parts")
        for entry in parts.values() if isinstance(parts, dict) else ():
            pins = entry.get("pins") if isinstance(entry, dict) else None
            uses.update(str(net).lower() for net in (pins.values() if isinstance(pins, dict) else ()))
        points = self.file.values.get("points")
        for entry in points.values() if isinstance(points, dict) else ():
            uses.update([str(entry.get("net", "")).lower()] if isinstance(entry, dict) else [])
        return uses


def _signal_words(file: Table) -> Iterator[str]:
    blocks = file.values.get("blocks")
    for block in blocks.values() if isinstance(blocks, dict) else ():
        for side in ("outputs", "inputs"):
            ports = block.get(side) if isinstance(block, dict) else None
            yield from (str(name) for name in (ports.values() if isinstance(ports, dict) else ()))
