"""
A folder of files that describe one board, without a board file.

The layout is read rather than the schematic, and the schematic rather than an exported netlist, which goes stale; the
others are compared with it, and every difference is a warning.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from kilter.circuit.board import Board
from kilter.importers.compare_boards import compare
from kilter.importers.complete_description import completed
from kilter.importers.described_board import board_of
from kilter.importers.description import Description
from kilter.importers.formats import BOARD_ENDINGS, DESCRIPTION_ENDINGS, NETLIST_ENDINGS, SCHEMATIC_ENDINGS, describe
from kilter.measure.errors import BadInput

SHOWN = 10
"""Differences between two descriptions that are listed one by one."""


def read_board_folder(folder: Path) -> Board:
    """
    The board that the files of a folder describe.

    Raises:
        BadInput: No file describes a board, several boards are described, or none of the files can be read.
    """
    descriptions, failures = _described(_files(folder))
    if not descriptions:
        raise failures[0]
    return board_of(reconciled(descriptions, [str(failure) for failure in failures]))


def reconciled(descriptions: Sequence[Description], failures: Sequence[str] = ()) -> Description:
    """
    The first description, completed from the others; what they say differently is among its warnings.

    Args:
        descriptions: Of one board, the preferred one first.
        failures: Messages about files that could not be read.
    """
    first = descriptions[0]
    warnings = [*first.warnings, *failures]
    for other in descriptions[1:]:
        comparison = compare(descriptions[0], other)
        sentences = comparison.sentences()
        if sentences:
            warnings.append(f"{comparison.first} is used and {comparison.second} differs from it: "
                            f"{comparison.agreeing} of {comparison.compared} common pins agree.")  # fmt: skip
            warnings += sentences[:SHOWN]
        if len(sentences) > SHOWN:
            warnings.append(f"{comparison.second} has {len(sentences) - SHOWN} more differences from "
                            f"{comparison.first}.")  # fmt: skip
        first = completed(first, other)
    return replace(first, warnings=tuple(warnings))


def _described(files: list[Path]) -> tuple[list[Description], list[BadInput]]:
    descriptions: list[Description] = []
    failures: list[BadInput] = []
    for file in files:
        try:
            descriptions.append(describe(file))
        except BadInput as error:
            failures.append(error)
    return descriptions, failures


def _files(folder: Path) -> list[Path]:
    """The files that describe the one board, the preferred first."""
    files = [file for file in sorted(folder.iterdir()) if file.is_file() and file.suffix.lower() in DESCRIPTION_ENDINGS]
    for endings in (BOARD_ENDINGS, NETLIST_ENDINGS, SCHEMATIC_ENDINGS):
        stems = sorted({file.stem for file in files if file.suffix.lower() in endings})
        if len(stems) == 1:
            own = [file for file in files if file.stem == stems[0]]
            return sorted(own, key=lambda file: DESCRIPTION_ENDINGS.index(file.suffix.lower()))
        if stems:
            raise BadInput(f"Cannot read the board in the folder {folder.name}", f"several boards: {', '.join(stems)}",
                           "files of one board", "Name one of the files, or write a board file (board.toml) that "
                           "names it.")  # fmt: skip
    raise BadInput(f"Cannot read the board in the folder {folder.name}", "no file that describes a board",
                   f"board.toml, or files ending in {', '.join(DESCRIPTION_ENDINGS)}",
                   "Name a file or another folder.")  # fmt: skip
