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
    file.done()
    return with_defaults(replace(draft.board(), history=history))


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
