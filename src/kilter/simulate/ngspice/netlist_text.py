"""Circuit elements written as a SPICE netlist."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

from kilter.circuit.board import Element
from kilter.measure.errors import BadInput
from kilter.simulate.ngspice.names import element_name, model_name, node_name
from kilter.simulate.ngspice.settings import tight_options

_POLARITY = "polarity"
_CONTROLLED = {"F", "H"}
_SOURCES = {"V", "I"}
_JUNCTIONS = {"D", "Q"}
_PLAIN = {"R", "C", "L", "E", "G"}


def spice_text(elements: Iterable[Element], *, options: Mapping[str, float] | None = None, title: str = "board") -> str:
    """
    A netlist with one line for each element, one model card for each diode and transistor, and '.op'.

    Args:
        elements: With faults applied already, if any.
        options: Simulator options by name; the tight ones of the data file unless said.
        title: First line.

    Raises:
        BadInput: An element of a kind that has no line here, or with a value that is not a finite number.

    >>> print(spice_text([Element("r1", "R", ("a", "0"), 4700.0)], options={"gmin": 1e-12}))
    * board
    rr1 na 0 4700.0
    .options gmin=1e-12
    .op
    .end
    <BLANKLINE>
    """
    settings = tight_options() if options is None else options
    lines = [f"* {' '.join(title.split())}"]
    for element in elements:
        lines += _lines(element)
    if settings:
        lines.append(".options " + " ".join(f"{name}={value!r}" for name, value in settings.items()))
    return "\n".join([*lines, ".op", ".end", ""])


def _lines(element: Element) -> Iterator[str]:
    if not math.isfinite(element.value):
        raise _refusal(element, f"the value {element.value}", "finite numbers", "Correct the value of this element.")
    if element.kind == "R" and element.value == 0:  # ngspice would put 1 mohm there without a word
        raise _refusal(element, "a resistance of 0 ohm", "any other resistance", "Join the two nets instead.")
    name = element_name(element.kind, element.name)
    head = " ".join([name, *map(node_name, element.nodes)])
    if element.kind in _PLAIN:
        yield f"{head} {element.value!r}"
    elif element.kind in _SOURCES:
        yield f"{head} dc {element.value!r}" + (f" ac {element.ac!r}" if element.ac else "")
    elif element.kind in _CONTROLLED:
        yield f"{head} {element_name('V', element.control)} {element.value!r}"
    elif element.kind in _JUNCTIONS:
        card = model_name(element.kind, element.name)
        yield f"{head} {card} area={element.value!r}" if element.kind == "D" else f"{head} {card} {element.value!r}"
        yield f".model {card} {_model_type(element)}({_parameters(element)})"
    else:
        raise _refusal(element, f"the kind '{element.kind}'", "R C L D Q V I E F G H", "Replace it by these kinds.")


def _model_type(element: Element) -> str:
    if element.kind == "D":
        return "d"
    return "pnp" if element.model.get(_POLARITY, 1.0) < 0 else "npn"


def _parameters(element: Element) -> str:
    """Model parameters as text; an infinite one (no breakdown, no Early effect) is left to the simulator's default."""
    known = {key: value for key, value in element.model.items() if key != _POLARITY and not math.isinf(value)}
    return " ".join(f"{key}={value!r}" for key, value in known.items())


def _refusal(element: Element, found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput(f"Cannot write element {element.name} as a netlist line", found, allowed, do_next)
