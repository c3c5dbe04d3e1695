"""Which reader a netlist file wants: told by its ending, and for .net by its first character."""

from __future__ import annotations

from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.netlist import read_netlist
from kilter.importers.spice import read_spice
from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput

SPICE_ENDINGS = (".cir", ".sp", ".spice", ".ckt")
ENDINGS = (*SPICE_ENDINGS, ".net")


def read_netlist_file(path: Path) -> Board:
    """
    The board of a netlist file.

    Raises:
        BadInput: The ending is not known or the file cannot be read.
    """
    ending = path.suffix.lower()
    if ending in SPICE_ENDINGS:
        return read_spice(path)
    if ending == ".net":
        return read_netlist(path) if read_text(path, "the netlist").lstrip().startswith("(") else read_spice(path)
    raise BadInput(f"Cannot read the netlist {path.name}", f"the ending '{ending}' of {path.name}", ", ".join(ENDINGS),
                   "Use a SPICE netlist or an S-expression netlist.")  # fmt: skip
