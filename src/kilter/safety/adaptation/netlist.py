"""A design's circuit as a SPICE netlist that a person can read, with its response asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kilter.circuit.board import Element

POLARITY = "polarity"


def design_netlist(title: str, elements: Sequence[Element]) -> str:
    """
    The netlist.

    Args:
        title: First line.
        elements: R, C, L, V, I and Q, each with a name that begins with its letter.

    >>> print(design_netlist("pad", [Element("R1", "R", ("in", "out"), 4700.0, tolerance=0.01)]))
    * pad
    R1 in out 4700 ; 1 %
    .ac dec 20 10 100meg
    .end
    <BLANKLINE>
    """
    lines = [line for element in elements for line in _lines(element)]
    return "\n".join([f"* {title}", *lines, ".ac dec 20 10 100meg", ".end", ""])


def _lines(element: Element) -> Iterator[str]:
    head = " ".join([element.name, *element.nodes])
    spread = f" ; {100 * element.tolerance:g} %" if element.tolerance else ""
    if element.kind == "Q":
        model = {key: value for key, value in element.model.items() if key != POLARITY}
        numbers = " ".join(f"{key}={value:.10g}" for key, value in model.items())
        yield f"{head} M{element.name}"
        yield f".model M{element.name} {'pnp' if element.model.get(POLARITY, 1.0) < 0 else 'npn'}({numbers})"
    elif element.kind in "VI":
        yield f"{head} dc {element.value:.10g}" + (f" ac {element.ac:g}" if element.ac else "") + spread
    else:
        yield f"{head} {element.value:.10g}{spread}"
