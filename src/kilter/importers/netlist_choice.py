"""Which reader a netlist, board or schematic file wants: SPICE by its ending, all others by how they begin."""

from __future__ import annotations

from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.described_board import board_of
from kilter.importers.formats import DESCRIPTION_ENDINGS, describe
from kilter.importers.spice import read_spice
from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput

SPICE_ENDINGS = (".cir", ".sp", ".spice", ".ckt")
ENDINGS = (*SPICE_ENDINGS, *DESCRIPTION_ENDINGS)


def read_netlist_file(path: Path, *, ground: str = "") -> Board:
    """
    The board of a netlist, board or schematic file.

    Args:
        path: Of the file.
        ground: Net that is ground; '' concludes it from the names. SPICE has its own, the net '0'.

    Raises:
        BadInput: The ending is not known, the file cannot be read, or it has no such net.
    """
    ending = path.suffix.lower()
    if ending in SPICE_ENDINGS or (ending == ".net" and _is_spice(path)):
        if ground:
            raise BadInput(f"Cannot read the netlist {path.name}", f"ground = '{ground}'", "the net '0' in SPICE",
                           "Remove the key, or rename the net in the netlist.")  # fmt: skip
        return read_spice(path)
    if ending in DESCRIPTION_ENDINGS:
        return board_of(describe(path), ground=ground)
    raise BadInput(f"Cannot read the netlist {path.name}", f"the ending '{ending}' of {path.name}", ", ".join(ENDINGS),
                   "Use a SPICE netlist, an S-expression netlist, a board file or a schematic.")  # fmt: skip


def _is_spice(path: Path) -> bool:
    return not read_text(path, "the netlist").lstrip().startswith("(")
