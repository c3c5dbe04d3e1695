"""
From sheets as they are drawn to nets.

Wires meet where they end; a junction joins what runs through it; a label sits anywhere on a wire. On one sheet
everything that has one name is one net, whether the name is a label's or a power symbol's. A hierarchical label meets
the pin of its sheet's symbol, a global name reaches everywhere. A bus is its members, and joins no wire by touching.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from kilter.importers.bus_names import bus_members, is_vector, matched
from kilter.importers.drawing import DrawnPin, Lines, Place, Scope, Sheet
from kilter.importers.net_merging import Merged

Node = tuple[str, str, object]
"""('at', sheet, place), ('bus', sheet, place), ('name', sheet, text), ('port', sheet, text), ('global', '', text) or
('pin', sheet, (place, number))."""


@dataclass
class DrawnNet:
    """One net: its name and the pins of parts on it."""

    name: str
    pins: list[DrawnPin] = field(default_factory=list)


@dataclass(frozen=True)
class BusName:
    """One name of a bus: its members and the nodes that each of them is."""

    text: str
    sheet: str
    scopes: tuple[str, ...]
    members: tuple[str, ...]

    def nodes(self, member: str) -> list[Node]:
        """The nodes of one member."""
        return [(scope, "" if scope == "global" else self.sheet, member) for scope in self.scopes]


SCOPES = {Scope.LOCAL: ("name",), Scope.PORT: ("name", "port"), Scope.GLOBAL: ("name", "global")}


def connected(sheets: Sequence[Sheet]) -> list[DrawnNet]:
    """The nets of a schematic that have at least one pin of a part, in the order of their first pin."""
    merged: Merged[Node] = Merged()
    for sheet in sheets:
        _draw(sheet, merged)
    return _nets(sheets, merged)


def _draw(sheet: Sheet, merged: Merged[Node]) -> None:
    buses, wires = Lines(sheet.buses), Lines(sheet.wires)
    _wires(sheet, wires, merged, "at")
    _wires(sheet, buses, merged, "bus")
    _entries(sheet, buses, merged)
    on_buses: dict[Node, list[BusName]] = {}
    for label in sheet.labels:
        members = bus_members(label.text, sheet.aliases)
        name = BusName(label.text, sheet.path, SCOPES[label.scope], members)
        if members and not wires.at(label.place):
            _note(on_buses, name, _reached(sheet.path, buses, label.place, merged, "bus"))
            continue
        node = _reached(sheet.path, wires, label.place, merged, "at")
        for scoped in name.nodes(label.text):
            merged.join(node, scoped)
    for pin in sheet.sheet_pins:
        members = bus_members(pin.text, sheet.aliases)
        if members:
            name = BusName(pin.text, pin.child, ("port",), members)
            _note(on_buses, name, _reached(sheet.path, buses, pin.place, merged, "bus"))
        else:
            merged.join(_reached(sheet.path, wires, pin.place, merged, "at"), ("port", pin.child, pin.text))
    _pins(sheet, merged)
    _buses(sheet, on_buses, merged)


def _wires(sheet: Sheet, lines: Lines, merged: Merged[Node], layer: str) -> None:
    for start, end in lines.segments:
        merged.join((layer, sheet.path, start), (layer, sheet.path, end))
    for place in sheet.junctions:
        if lines.at(place):
            _reached(sheet.path, lines, place, merged, layer)


def _reached(path: str, lines: Lines, place: Place, merged: Merged[Node], layer: str) -> Node:
    """The node of a place, joined with every line that runs through it."""
    node: Node = (layer, path, place)
    merged.root(node)
    for number in lines.at(place):
        merged.join(node, (layer, path, lines.segments[number][0]))
    return node


def _entries(sheet: Sheet, buses: Lines, merged: Merged[Node]) -> None:
    """Entries carry a net between their ends; an end on a bus meets nothing there but, from bus to bus, the bus."""
    for start, end in sheet.entries:
        on_bus = [bool(buses.at(place)) for place in (start, end)]
        if all(on_bus):
            ends = [_reached(sheet.path, buses, place, merged, "bus") for place in (start, end)]
            merged.join_all(ends)
        elif not any(on_bus):
            merged.join(("at", sheet.path, start), ("at", sheet.path, end))


def _pins(sheet: Sheet, merged: Merged[Node]) -> None:
    for pin in sheet.pins:
        node: Node = ("at", sheet.path, pin.place)
        merged.root(node)
        if pin.names:
            for scope in SCOPES[pin.scope]:
                merged.join(node, (scope, "" if scope == "global" else sheet.path, pin.names))


def _note(on_buses: dict[Node, list[BusName]], name: BusName, node: Node) -> None:
    on_buses.setdefault(node, []).append(name)


def _buses(sheet: Sheet, on_buses: dict[Node, list[BusName]], merged: Merged[Node]) -> None:
    """Join the members of all names of each bus; a bus that only sheet pins name lends its members to the sheet."""
    groups: dict[Node, list[BusName]] = {}
    for node, names in on_buses.items():
        groups.setdefault(merged.root(node), []).extend(names)
    labelled = {name.text for names in groups.values() for name in names if "name" in name.scopes}
    for names in groups.values():
        first = min(names, key=lambda name: ("global" not in name.scopes, "name" not in name.scopes))
        if "name" not in first.scopes and first.text not in labelled:
            for member in first.members:
                merged.join(first.nodes(member)[0], ("name", sheet.path, member))
        for name in names:
            in_order = is_vector(first.text) and is_vector(name.text)
            for own, other in matched(first.members, name.members, in_order=in_order):
                merged.join_all((*first.nodes(own), *name.nodes(other)))


def _nets(sheets: Sequence[Sheet], merged: Merged[Node]) -> list[DrawnNet]:
    pins: dict[Node, list[DrawnPin]] = {}
    for sheet in sheets:
        for pin in sheet.pins:
            if pin.ref:
                pins.setdefault(merged.root(("at", sheet.path, pin.place)), []).append(pin)
    names: dict[Node, list[Node]] = {}
    for node in list(merged.above):
        if node[0] in ("name", "global"):
            names.setdefault(merged.root(node), []).append(node)
    words = {sheet.path: sheet.name for sheet in sheets}
    return [DrawnNet(_named(names.get(root, []), words, there), there) for root, there in pins.items()]


def _named(names: list[Node], words: dict[str, str], pins: list[DrawnPin]) -> str:
    """Global names first, then the name nearest to the first sheet, then a pin; equals in the order of letters."""
    best = min(_ranked(names, words), default=None)
    if best is not None:
        return best[-1]
    first = min((pin.ref, pin.number) for pin in pins)
    return f"Net-({first[0]}-Pad{first[1]})"


def _ranked(names: list[Node], words: dict[str, str]) -> Iterator[tuple[int, int, str]]:
    for kind, path, text in names:
        if kind == "global":
            yield (0, 0, str(text))
        else:
            yield (1, path.count("/"), words[path] + str(text))
