"""What a person names on the command line: a board, and readings from a readings file or a visit file."""

from __future__ import annotations

from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.load import load_board
from kilter.importers.load import load_readings as load_readings_file
from kilter.records.reading import Reading
from kilter.wiring.visit_file import VisitFile, is_visit_file

__all__ = ["load_board", "load_readings"]


def load_readings(path: Path | str, board: Board) -> tuple[Reading, ...]:
    """
    The readings of a readings file, or those of a visit file that still stand.

    Raises:
        BadInput: They cannot be read, or name what the board does not have.
    """
    if is_visit_file(Path(path)):
        return VisitFile(Path(path), board).entries().readings()
    return load_readings_file(path, board)
