"""The two things a person gives: a board and readings, each by the path of a file or folder."""

from __future__ import annotations

from pathlib import Path

from kilter.circuit.board import Board
from kilter.circuit.layout import Layout
from kilter.importers.board_file import read_board_file
from kilter.importers.board_folder import read_board_folder
from kilter.importers.formats import DESCRIPTION_ENDINGS, describe
from kilter.importers.netlist_choice import ENDINGS, read_netlist_file
from kilter.importers.readings_file import read_readings
from kilter.importers.toml_tables import read_toml
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading

BOARD_IN_FOLDER = "board.toml"


def load_board(path: Path | str) -> Board:
    """
    The board in a board file (.toml), a SPICE netlist, a file of a layout or schematic program, or a folder.

    A folder without board.toml may hold the files of one board; see `read_board_folder`.

    Raises:
        BadInput: It cannot be read; the message says what and where.
    """
    path = Path(path)
    if path.is_dir():
        if not (path / BOARD_IN_FOLDER).exists() and any(_describes(file) for file in path.iterdir()):
            return read_board_folder(path)
        path /= BOARD_IN_FOLDER
    if path.suffix.lower() == ".toml":
        return read_board_file(path)
    if path.suffix.lower() in ENDINGS:
        return read_netlist_file(path)
    raise BadInput(f"Cannot read the board {path.name}", f"the ending '{path.suffix}' of {path.name}",
                   f".toml, {', '.join(ENDINGS)} or a folder with {BOARD_IN_FOLDER}",
                   "Name a board file, a netlist or such a folder.")  # fmt: skip


def _describes(file: Path) -> bool:
    return file.suffix.lower() in DESCRIPTION_ENDINGS


def load_layout(path: Path | str) -> Layout | None:
    """
    Where the parts of a board are, and its outline; None where the file's format does not tell.

    Args:
        path: Of a board file with a netlist that has places, or of that file itself.

    Raises:
        BadInput: It cannot be read.
    """
    path = Path(path)
    path = path / BOARD_IN_FOLDER if path.is_dir() else path
    if path.suffix.lower() == ".toml":
        netlist = read_toml(path, "the board file").text("netlist").strip()
        path = path.parent / netlist if netlist else path
    return describe(path).layout if path.suffix.lower() in DESCRIPTION_ENDINGS else None


def load_readings(path: Path | str, board: Board) -> tuple[Reading, ...]:
    """
    The readings in a CSV or TOML file, in their order.

    Raises:
        BadInput: They cannot be read, or name what the board does not have.
    """
    return read_readings(Path(path), board)
