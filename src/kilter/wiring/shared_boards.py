"""A board file with its netlist as a board for others."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput
from kilter.services.share_experience import SharedBoard, shareable_board

NETLISTS = (".cir", ".sp", ".spice")


def board_for_others(path: Path, title: str) -> SharedBoard:
    """
    What of a board goes out.

    Args:
        path: Board file.
        title: What it is called for others.

    Raises:
        BadInput: It is no board file, has no title for others, or its netlist is of another kind.
    """
    if path.suffix.lower() != ".toml" or not title:
        raise BadInput("Cannot share the board", f"{path.name} and the title '{title}'",
                       "a board file (.toml) and a title for others", "Name both.")  # fmt: skip
    plain: dict[str, Any] = tomllib.loads(read_text(path, "the board file"))
    netlist = path.parent / plain["netlist"] if "netlist" in plain else None
    if netlist is not None and netlist.suffix.lower() not in NETLISTS:
        raise BadInput("Cannot share the board", f"the netlist {netlist.name}", "boards with a SPICE netlist, or none",
                       "Share counts and readings without it.")  # fmt: skip
    return shareable_board(plain, read_text(netlist, "the netlist") if netlist else "", title)
