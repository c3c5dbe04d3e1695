"""The board file: one TOML text that a person can write; see docs/board-file.md for its form."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.board_blocks import read_blocks
from kilter.importers.board_draft import Draft
from kilter.importers.board_history import read_history
from kilter.importers.board_parts import add_block_parts, add_loads, read_parts
from kilter.importers.board_points import read_points, read_rails
from kilter.importers.board_states import read_states
from kilter.importers.defaults import with_defaults
from kilter.importers.netlist_choice import ENDINGS, read_netlist_file
from kilter.importers.toml_tables import Table, read_toml
from kilter.safety.hazards import object_kinds

CHASSIS = ("isolated", "live", "unknown")
EDITION = 1
"""Edition of the format, the number behind `kilter =` in the file."""


def read_board_file(path: Path | str) -> Board:
    """
    The board that a board file describes, with its netlist if it names one.

    Raises:
        BadInput: The file or its netlist cannot be read, or names something that does not exist.
    """
    path = Path(path)
    file = read_toml(path, "the board file")
    _check_edition(file)
    board = _netlist(file, path)
    draft = Draft(file, board)
    draft.name_signals()
    read_rails(draft)
    read_parts(draft)
    add_block_parts(draft)
    add_loads(draft)
    read_points(draft)
    read_blocks(draft)
    read_states(draft)
    history = read_history(draft)
    kinds, chassis, remarks = _object(file)
    file.done()
    return with_defaults(replace(draft.board(), history=history, kinds=kinds, chassis=chassis, remarks=remarks))


def _object(file: Table) -> tuple[tuple[str, ...], str, tuple[str, ...]]:
    """What is said of the object as a whole, from which hazards follow."""
    if "object" not in file:
        return (), "", ()
    said = file.table("object")
    kinds, chassis, remarks = said.texts("kinds"), said.text("chassis"), said.texts("remarks")
    unknown = [kind for kind in kinds if kind not in object_kinds()]
    if unknown:
        raise said.bad("kinds", unknown[0], ", ".join(object_kinds()), "Use the nearest of these.")
    if chassis not in ("", *CHASSIS):
        raise said.bad("chassis", chassis, ", ".join(CHASSIS), "Write 'unknown' until somebody has measured it.")
    said.done()
    return kinds, chassis, remarks


def _check_edition(file: Table) -> None:
    edition = file.take("kilter")
    if edition != EDITION or isinstance(edition, bool):
        raise file.bad("kilter", edition, f"kilter = {EDITION}, the edition of the format",
                       f"Write kilter = {EDITION} in the first line.")  # fmt: skip


def _netlist(file: Table, path: Path) -> Board:
    name = file.needed_text("board")
    netlist = file.text("netlist").strip()
    board = Board(name)
    if netlist:
        target = path.parent / netlist
        if not target.resolve().is_relative_to(path.resolve().parent):
            raise file.bad("netlist", netlist, "a file in the folder of the board file or below it",
                           "Copy the netlist beside the board file.")  # fmt: skip
        if target.suffix.lower() not in ENDINGS or not target.is_file():
            raise file.bad("netlist", netlist, f"a file that exists, ending in {', '.join(ENDINGS)}",
                           "Correct the name of the netlist.")  # fmt: skip
        board = read_netlist_file(target, ground=file.text("ground").strip())
    return replace(board, name=name, revision=file.text("revision"), source=path.name)
