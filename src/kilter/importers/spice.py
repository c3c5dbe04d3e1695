"""SPICE netlists: elements, parts, default points and states of a board from a .cir, .sp or .spice file."""

from __future__ import annotations

from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.defaults import with_defaults
from kilter.importers.spice_expand import expand
from kilter.importers.spice_lines import read_deck
from kilter.importers.spice_parts import parts_of
from kilter.importers.spice_structure import outline
from kilter.measure.errors import BadInput


def read_spice(path: Path | str) -> Board:
    """
    The board that a SPICE netlist describes.

    Subcircuits are expanded: the call XU1 is the part U1 with the subcircuit's ports for pins. Sources are no parts.
    Every line that is not used is among the board's warnings, every inferred kind among its guesses.

    Args:
        path: The netlist; files it includes must lie in its folder or below.

    Raises:
        BadInput: The netlist cannot be read; the message names file and line.
    """
    path = Path(path)
    deck = read_deck(path)
    circuit = expand(outline(deck))
    if not circuit.elements:
        raise BadInput(
            f"Cannot read the netlist {path.name}", f"no element in {path.name} line 1 to the end",
            "at least one element line; the first line is always the title", "Check that this is a SPICE netlist.",
        )  # fmt: skip
    parts, elements = parts_of(circuit)
    board = Board(
        name=deck.title.lstrip("* ") or path.stem,
        parts=parts,
        elements=elements,
        guesses=tuple(circuit.notes.guesses),
        warnings=tuple(circuit.notes.warnings),
        source=path.name,
    )
    return with_defaults(board)
