"""
One place in a SPICE netlist while it is expanded: the top level, or the inside of one subcircuit call.

A site knows what names mean there: nets, parameters, models and subcircuits.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from difflib import get_close_matches

from kilter.circuit.board import GROUND
from kilter.importers.spice_cards import Card, bad_card, expression_inside
from kilter.importers.spice_expressions import ExpressionError
from kilter.importers.spice_numbers import spice_doubt, spice_number
from kilter.importers.spice_scope import Scope
from kilter.importers.spice_structure import Definition, ModelCard
from kilter.measure.errors import BadInput


@dataclass
class Notes:
    """What the importer has to tell: doubts and things left out, and what it inferred."""

    warnings: list[str] = field(default_factory=list)
    guesses: list[str] = field(default_factory=list)


@dataclass
class Names:
    """Net names of the whole circuit as first written; SPICE does not tell upper from lower case."""

    globals: frozenset[str]
    spelled: dict[str, str] = field(default_factory=dict)

    def net(self, name: str) -> str:
        """The first spelling of a full net name; 'gnd' is ground."""
        low = name.lower()
        return GROUND if low in (GROUND, "gnd") else self.spelled.setdefault(low, name)


@dataclass
class Site:
    """
    Names in force at one place.

    Args:
        definition: What is expanded here.
        scope: Its parameters.
        names: Net names of the whole circuit.
        notes: Where warnings go.
        prefix: '' at the top, 'U1.' inside the call of U1.
        part: '' at the top, the part of the outermost call inside.
        ports: Lower-case port name to net.
        above: The site of the call.
    """

    definition: Definition
    scope: Scope
    names: Names
    notes: Notes
    prefix: str = ""
    part: str = ""
    ports: dict[str, str] = field(default_factory=dict)
    above: Site | None = None

    def net(self, word: str) -> str:
        """The net that a node word means here."""
        low = word.lower()
        if low in self.ports:
            return self.ports[low]
        if low in (GROUND, "gnd") or low in self.names.globals:
            return self.names.net(word)
        return self.names.net(self.prefix + word)

    def value(self, text: str, card: Card, letter: str = "") -> float:
        """
        A number or an expression.

        Raises:
            BadInput: Neither; the message has the place and the reason.
        """
        number = spice_number(text)
        if number is not None:
            self._doubt(text, card, letter)
            return number
        try:
            return self.scope.compute(text)
        except ExpressionError as error:
            raise bad_card(
                card.line, f"{card.name} with the value '{text}': {error}",
                "a SPICE number such as 4.7k or 1Meg, or an expression in braces over defined parameters",
                "Correct the value or define the parameter with .param.",
            ) from None  # fmt: skip

    def model(self, name: str, card: Card, types: tuple[str, ...]) -> tuple[ModelCard, Site]:
        """The model of that name and the site where it stands; it must be of one of these types."""
        known: list[str] = []
        site: Site | None = self
        while site is not None:
            found = site.definition.models.get(name.lower())
            if found is not None and found.type in types:
                return found, site
            if found is not None:
                raise bad_card(card.line, f"{card.name} with model {found.name} of type '{found.type}'",
                               f"a model of type {' or '.join(types)}", "Name a model of that type.")  # fmt: skip
            known += [model.name for model in site.definition.models.values()]
            site = site.above
        raise missing(card, "model", name, known)

    def has_model(self, name: str) -> bool:
        """Whether a model of that name is in force here."""
        site: Site | None = self
        while site is not None:
            if name.lower() in site.definition.models:
                return True
            site = site.above
        return False

    def subcircuit(self, name: str, card: Card) -> Definition:
        """The subcircuit of that name."""
        known: list[str] = []
        site: Site | None = self
        while site is not None:
            if name.lower() in site.definition.inner:
                return site.definition.inner[name.lower()]
            known += [inner.name for inner in site.definition.inner.values()]
            site = site.above
        raise missing(card, "subcircuit", name, known)

    def warn(self, card: Card, words: str) -> None:
        """Note something left out or doubted, once."""
        text = f"{card.line.place}: {words}"
        if text not in self.notes.warnings:
            self.notes.warnings.append(text)

    def _doubt(self, text: str, card: Card, letter: str) -> None:
        doubt = spice_doubt(expression_inside(text), letter)
        if doubt:
            self.warn(card, f"{card.name}: {doubt}.")


def missing(card: Card, what: str, name: str, known: list[str]) -> BadInput:
    """The error for a model or subcircuit that the netlist does not define; names spelled nearly so come first."""
    near = get_close_matches(name.lower(), [one.lower() for one in known], 3)
    listed = sorted(set(known), key=lambda one: (one.lower() not in near, one))[:12]
    card_word = ".model" if what == "model" else ".subckt"
    return bad_card(
        card.line, f"{card.name} with the {what} '{name}', which the netlist does not define",
        ", ".join(listed) or f"none: the netlist has no {card_word} line",
        f"Correct the name, or add the {card_word} line or the .include that holds it.",
    )  # fmt: skip
