"""A logic capture by what the file holds: VCD, a zipped logic session, or a table."""

from __future__ import annotations

from pathlib import Path

from kilter.importers.log_columns import first_lines
from kilter.importers.logic_session import read_logic_session
from kilter.importers.logic_table import read_logic_table
from kilter.importers.vcd import read_vcd
from kilter.signals.logic_lines import LogicCapture

KEYWORDS = ("$date", "$version", "$timescale", "$comment", "$scope", "$var")


def read_logic_capture(path: Path | str) -> LogicCapture:
    """
    The capture in a file, whatever its ending.

    Raises:
        BadInput: It cannot be read, or is none of the three.
    """
    path = Path(path)
    try:
        with path.open("rb") as file:
            start = file.read(4096)
    except (OSError, ValueError):
        start = b""
    if start.startswith(b"PK"):
        return read_logic_session(path)
    if start.lstrip().startswith(tuple(word.encode() for word in KEYWORDS)):
        return read_vcd(path)
    first_lines(path, f"Cannot read the logic capture {path.name}")
    return read_logic_table(path)
