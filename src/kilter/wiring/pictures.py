"""Pictures and outlines by the names of their files."""

from __future__ import annotations

from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.load import load_layout
from kilter.importers.part_outlines import outlines_of_layout, read_part_outlines
from kilter.importers.temperature_matrix import read_temperature_matrix
from kilter.measure.errors import BadInput
from kilter.thermal.image import TemperatureImage
from kilter.thermal.outlines import Outlines

__all__ = ["load_outlines", "load_temperatures"]


def load_temperatures(path: str, unit: str = "") -> TemperatureImage:
    """The temperature picture in a file."""
    return read_temperature_matrix(Path(path), unit)


def load_outlines(path: str, board_path: str, board: Board) -> Outlines:
    """
    The outlines of an outlines file, else from the pads of the board file.

    Raises:
        BadInput: Neither tells where a part is.
    """
    if path:
        return read_part_outlines(Path(path), board)
    layout = load_layout(board_path)
    found = outlines_of_layout(layout, board) if layout is not None else None
    if found is None or not found.parts:
        raise BadInput(
            f"Cannot find where the parts of {board.name} are",
            "no outlines file and no board file with pads",
            "either of them",
            "Write an outlines file and name it with --outlines (docs/thermal.md).",
        )
    return found
