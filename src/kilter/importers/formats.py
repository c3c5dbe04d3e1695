"""Which format a file has, told by how it begins, and the description that its reader makes of it."""

from __future__ import annotations

import re
from pathlib import Path

from kilter.importers.description import Description
from kilter.importers.ipc356 import describe_ipc356, is_ipc356
from kilter.importers.legacy_board import HEADER as LEGACY_BOARD
from kilter.importers.legacy_board import describe_legacy_board
from kilter.importers.legacy_schematic import describe_legacy_schematic
from kilter.importers.legacy_sheet import HEADER as LEGACY_SCHEMATIC
from kilter.importers.netlist import describe_netlist
from kilter.importers.sexpr_board import describe_sexpr_board
from kilter.importers.sexpr_schematic import describe_sexpr_schematic
from kilter.importers.text_files import read_text
from kilter.importers.xml_board import describe_xml_board
from kilter.importers.xml_schematic import describe_xml_schematic
from kilter.measure.errors import BadInput

BOARD_ENDINGS = (".kicad_pcb", ".brd")
SCHEMATIC_ENDINGS = (".kicad_sch", ".sch")
NETLIST_ENDINGS = (".net", ".d356", ".ipc", ".356")
DESCRIPTION_ENDINGS = (*BOARD_ENDINGS, *SCHEMATIC_ENDINGS, *NETLIST_ENDINGS)
"""Endings of files that describe a board, in the order in which they are preferred."""

FORMS = (
    "an S-expression board file, schematic or netlist, an XML board or schematic, a legacy text board or schematic, "
    "or IPC-D-356 records"
)


def describe(path: Path) -> Description:
    """
    What a file of any of the known formats says about a board.

    Raises:
        BadInput: The file cannot be read or has none of these formats.
    """
    text = read_text(path, "the board")
    start = text.lstrip()
    if start.startswith("("):
        return _sexpr(path, text, start)
    if start.startswith("<"):
        wanted_board = re.search(r"<board[\s>]", text) is not None
        return (describe_xml_board if wanted_board else describe_xml_schematic)(text, path.name)
    if start.startswith(LEGACY_SCHEMATIC):
        return describe_legacy_schematic(path)
    if start.startswith(LEGACY_BOARD):
        return describe_legacy_board(text, path.name)
    if is_ipc356(text):
        return describe_ipc356(text, path.name)
    raise _unknown(path, "a beginning that no known format has")


def _sexpr(path: Path, text: str, start: str) -> Description:
    match = re.match(r"\(\s*([^\s()\"]+)", start)
    word = match[1] if match else ""
    if word == "kicad_pcb":
        return describe_sexpr_board(text, path.name)
    if word == "kicad_sch":
        return describe_sexpr_schematic(path)
    if word == "export" or path.suffix.lower() == ".net":
        return describe_netlist(text, path.name)
    raise _unknown(path, f"a list named '{word[:40]}'")


def _unknown(path: Path, found: str) -> BadInput:
    return BadInput(f"Cannot read the board {path.name}", f"{found} at {path.name} line 1", FORMS,
                    "Name a file of one of these formats.")  # fmt: skip
