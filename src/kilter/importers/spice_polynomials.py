"""
Controlled sources given by a polynomial, where it is a sum of a constant and linear terms: one source for each term.

Voltages add up in series, through nets of their own ('E1.1'); currents add up in parallel. A polynomial with a product
or a power in it has no counterpart among the elements.

Source: Berkeley SPICE 2G6 user's guide, dependent sources (from memory): coefficients p0, p1 ... pn of the constant and
the linear terms come first; a single coefficient of a polynomial in one input is p1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kilter.circuit.board import Element
from kilter.importers.spice_cards import Card, bad_card
from kilter.importers.spice_numbers import spice_number
from kilter.importers.spice_site import Site

MOST_INPUTS = 50
CONSTANT = {"E": "V", "H": "V", "G": "I", "F": "I"}
"""Source that stands for the constant term."""


def linear_terms(site: Site, card: Card) -> list[Element] | None:
    """
    The elements of a source 'POLY(n) inputs coefficients'; None where it is not linear.

    Raises:
        BadInput: The number of inputs is no whole number, or nodes or coefficients are missing.
    """
    letter = card.name[0].upper()
    inputs, coefficients = _taken_apart(site, card, 2 if letter in "EG" else 1)
    count = len(inputs)
    if count == 1 and len(coefficients) == 1:
        coefficients = [0.0, *coefficients]
    constant, linear, rest = coefficients[0], coefficients[1 : count + 1], coefficients[count + 1 :]
    if any(rest):
        return None
    terms = [_term(site, card, letter, place, *pair) for place, pair in enumerate(zip(inputs, linear, strict=False), 1)]
    if constant or not terms:
        terms.append(Element(f"{site.prefix}{card.name}.0", CONSTANT[letter], (), constant))
    ends = (site.net(card.words[1]), site.net(card.words[2]))
    return _joined(site, card, terms, ends, series=letter in "EH")


def _taken_apart(site: Site, card: Card, nodes_each: int) -> tuple[list[tuple[str, ...]], list[float]]:
    words = card.words[4:]
    count = spice_number(words[0]) if words else None
    if count is None or count != int(count) or not 1 <= count <= MOST_INPUTS:
        raise bad_card(card.line, f"{card.name} with POLY({words[0] if words else ''})",
                       f"a whole number of inputs, 1 to {MOST_INPUTS}", "Correct the number.")  # fmt: skip
    used = int(count) * nodes_each
    names, numbers = words[1 : used + 1], words[used + 1 :]
    if len(names) < used or not numbers:
        raise bad_card(card.line, f"{card.name} with {len(words) - 1} words after POLY({words[0]})",
                       f"{used} inputs and at least one coefficient", "Complete the line.")  # fmt: skip
    inputs = [tuple(names[at : at + nodes_each]) for at in range(0, used, nodes_each)]
    return inputs, [site.value(word, card) for word in numbers]


def _term(site: Site, card: Card, letter: str, place: int, names: Sequence[str], gain: float) -> Element:
    """One linear term, its output nodes still to come."""
    name = f"{site.prefix}{card.name}.{place}"
    if letter in "EG":
        return Element(name, letter, tuple(site.net(word) for word in names), gain)
    return Element(name, letter, (), gain, control=site.prefix + names[0])


def _joined(
    site: Site, card: Card, terms: list[Element], ends: tuple[str, str], *, series: bool
) -> list[Element]:
    """The terms between the two ends, in series or in parallel."""
    if len(terms) == 1:
        return [replace(terms[0], name=site.prefix + card.name, nodes=(*ends, *terms[0].nodes))]
    if not series:
        return [replace(term, nodes=(*ends, *term.nodes)) for term in terms]
    steps = [ends[0], *(f"{site.prefix}{card.name}.{at}" for at in range(1, len(terms))), ends[1]]
    return [replace(term, nodes=(*steps[at : at + 2], *term.nodes)) for at, term in enumerate(terms)]
