"""
Expand a SPICE outline into flat elements: subcircuit calls become their insides under the name of the call.

The call XU1 is the part U1; inside it 'Q3' is the element 'U1.Q3' and the node 'n' the net 'U1.n'.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from kilter.circuit.board import Element
from kilter.importers.spice_cards import Card, bad_card
from kilter.importers.spice_elements import elements_of
from kilter.importers.spice_scope import Scope
from kilter.importers.spice_site import Names, Notes, Site
from kilter.importers.spice_structure import Definition, Outline
from kilter.measure.errors import BadInput

DEEPEST = 20
"""Calls inside calls before they are refused."""
MOST_ELEMENTS = 100_000
"""Elements and calls in all before a netlist is refused."""


@dataclass(frozen=True, slots=True)
class Call:
    """A top-level subcircuit call: a part with the subcircuit's ports for pins."""

    part: str
    subcircuit: str
    pins: dict[str, str]


@dataclass
class Circuit:
    """A flat circuit: elements by name, top-level calls, and the top-level lines in order."""

    notes: Notes
    elements: dict[str, Element] = field(default_factory=dict)
    calls: dict[str, Call] = field(default_factory=dict)
    cards: list[tuple[Card, list[Element]]] = field(default_factory=list)
    taken: dict[str, str] = field(default_factory=dict)
    names: Names = field(default_factory=lambda: Names(frozenset()))
    top_names: frozenset[str] = frozenset()

    def nets(self, word: str) -> str:
        """The net that a node word means at the top level."""
        return self.names.net(word)


def expand(found: Outline) -> Circuit:
    """
    All elements of a netlist.

    Raises:
        BadInput: A name used twice, a call that does not fit its subcircuit, a subcircuit inside itself.
    """
    own = frozenset(card.name.lower() for card in found.top.cards)
    circuit = Circuit(Notes(warnings=found.warnings), names=Names(found.globals), top_names=own)
    site = _site(found.top, circuit.names, circuit.notes)
    _expand(circuit, site, ())
    _resolve_controls(circuit)
    return circuit


def _site(definition: Definition, names: Names, notes: Notes) -> Site:
    scope = Scope(texts={**definition.defaults, **definition.parameters}, functions=definition.functions)
    return Site(definition, scope, names, notes)


def _expand(circuit: Circuit, site: Site, within: tuple[int, ...]) -> None:
    for card in site.definition.cards:
        if card.name[0] in "xX":
            _call(circuit, site, card, within)
            continue
        elements = elements_of(site, card)
        for element in elements:
            _add(circuit, element, card)
        if not within:
            circuit.cards.append((card, elements))


def _add(circuit: Circuit, element: Element, card: Card) -> None:
    _take_name(circuit, element.name, card)
    circuit.elements[element.name] = element


def _take_name(circuit: Circuit, name: str, card: Card) -> None:
    low = name.lower()
    if low in circuit.taken:
        raise bad_card(card.line, f"the name '{name}', which {circuit.taken[low]} has already",
                       "each name once, upper and lower case being the same", "Rename one of the two.")  # fmt: skip
    circuit.taken[low] = card.line.place
    if len(circuit.taken) > MOST_ELEMENTS:
        raise bad_card(card.line, f"more than {MOST_ELEMENTS} elements and calls", "smaller circuits",
                       "Look for subcircuits that call many others.")  # fmt: skip


def _call(circuit: Circuit, site: Site, card: Card, within: tuple[int, ...]) -> None:
    words = [word for word in card.words if word.lower() != "params:"]
    if len(words) < 3:
        raise bad_card(card.line, f"'{card.line.text[:60]}'", "Xname, the nodes and the subcircuit's name",
                       "Complete the line.")  # fmt: skip
    definition = site.subcircuit(words[-1], card)
    _check_call(card, words, definition, within)
    part = site.prefix + card.name if within else _part_name(circuit, card)
    _take_name(circuit, part, card)
    nets = [site.net(word) for word in words[1:-1]]
    if not within:
        circuit.calls[part] = Call(part, definition.name, dict(zip(definition.ports, nets, strict=True)))
        circuit.cards.append((card, []))
    inner = _site(definition, site.names, site.notes)
    inner = replace(inner, prefix=part + ".", part=site.part or part, above=site)
    inner.ports = {port.lower(): net for port, net in zip(definition.ports, nets, strict=True)}
    inner.scope.above = site.scope
    _arguments(site, inner, card, definition)
    _expand(circuit, inner, (*within, id(definition)))


def _check_call(card: Card, words: list[str], definition: Definition, within: tuple[int, ...]) -> None:
    if len(words) - 2 != len(definition.ports):
        raise bad_card(
            card.line, f"{card.name} with {len(words) - 2} nodes for {definition.name}",
            f"{len(definition.ports)} nodes: {' '.join(definition.ports)}", "Give one node for each port.",
        )  # fmt: skip
    if id(definition) in within:
        raise bad_card(card.line, f"{card.name}, which calls {definition.name} inside itself",
                       "subcircuits that do not contain themselves", "Break the circle.")  # fmt: skip
    if len(within) >= DEEPEST:
        raise bad_card(card.line, f"calls nested deeper than {DEEPEST}", f"at most {DEEPEST} levels",
                       "Flatten some of them.")  # fmt: skip


def _part_name(circuit: Circuit, card: Card) -> str:
    """XU1 is the part U1; X1 stays X1, and so does XR1 where the netlist has an R1 of its own."""
    short = card.name[1:]
    return short if short[:1].isalpha() and short.lower() not in circuit.top_names else card.name


def _arguments(site: Site, inner: Site, card: Card, definition: Definition) -> None:
    for key, text in card.settings.items():
        if key == "m":
            if site.value(text, card) != 1:
                raise bad_card(card.line, f"{card.name} with m={text}", "m=1",
                               "Write the parallel parts one by one.")  # fmt: skip
            continue
        if key not in definition.defaults:
            site.warn(card, f"{card.name}: {key} is no parameter of {definition.name}; it is passed on all the same.")
        inner.scope.texts.pop(key, None)
        inner.scope.values[key] = site.value(text, card)


def _resolve_controls(circuit: Circuit) -> None:
    """Give every F and H the name of its voltage source as that is spelled; it must exist at the same level."""
    sources = {name.lower(): name for name, element in circuit.elements.items() if element.kind == "V"}
    for name, element in circuit.elements.items():
        if element.kind not in "FH":
            continue
        control = sources.get(element.control.lower())
        if control is None:
            place = circuit.taken[name.lower()]
            raise _no_source(name, element.control, place, sorted(sources.values()))
        circuit.elements[name] = replace(element, control=control)


def _no_source(name: str, control: str, place: str, sources: list[str]) -> BadInput:
    return BadInput(
        "Cannot read the netlist", f"{name} controlled by '{control}', which is no voltage source, at {place}",
        ", ".join(sources[:12]) or "none: the netlist has no voltage source",
        "Name a voltage source of the same level; one of 0 V serves as a current probe.",
    )  # fmt: skip
