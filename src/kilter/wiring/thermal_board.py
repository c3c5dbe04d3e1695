"""Outlines of a kept board's parts: from a file of outlines among its files, else from the pads of its layout."""

from __future__ import annotations

from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.load import load_layout
from kilter.importers.part_outlines import outlines_of_layout, read_part_outlines
from kilter.store.models import BoardEdition
from kilter.store.verbs.boards import unpacked
from kilter.thermal.outlines import Outlines

OUTLINES = "outlines.toml"


def outlines_of_edition(edition: BoardEdition, board: Board) -> Outlines | None:
    """
    The outlines; None where the edition holds none.

    Args:
        edition: Whose files are looked at; a file of outlines is called OUTLINES.
        board: Of the edition.

    Raises:
        BadInput: A file of outlines that cannot be read.
    """
    main = unpacked(edition)
    told = _folder(main) / OUTLINES
    if told.is_file():
        return read_part_outlines(told, board)
    layout = load_layout(main)
    found = outlines_of_layout(layout, board) if layout is not None else None
    return found if found is not None and found.parts else None


def _folder(main: Path) -> Path:
    return main if main.is_dir() else main.parent
