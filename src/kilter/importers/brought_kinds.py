"""What kind of file somebody brought, told by its bytes and its structure, never by its name."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from kilter.importers.captures.read_capture import read_capture
from kilter.importers.meter_log import read_meter_logs
from kilter.importers.reading_lines import COLUMNS
from kilter.importers.tiff import tiff_values
from kilter.measure.errors import BadInput
from kilter.signals.meter_log import MeterLog
from kilter.signals.settings import setting
from kilter.thermal.figures import number

HEAD = 1 << 18
"""Bytes that are looked at; a TIFF, whose directory may stand at its end, is looked at whole."""

PICTURES = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"GIF87a", b"GIF89a")
TIFF = (b"II*\0", b"MM\0*")
NUMPY, ZIP = b"\x93NUMPY", b"PK\x03\x04"


def kind_of(path: Path) -> str:
    """
    The kind: 'photograph', 'thermal picture', 'capture', 'meter log', 'readings', else 'document'.

    Args:
        path: Of the file, or of its first HEAD bytes up to the end of a line.
    """
    with path.open("rb") as file:
        head = file.read(HEAD)
    if head.startswith(PICTURES) or (head[:4] == b"RIFF" and head[8:12] == b"WEBP"):
        return "photograph"
    if head.startswith(TIFF):
        return "thermal picture" if _holds_temperatures(path) else "photograph"
    if head[:4] == b"RIFF" and head[8:12] == b"WAVE":
        return "capture"
    if head.startswith((NUMPY, ZIP)):
        return _of_arrays(path, head)
    return _of_text(path, head)


def cut_at_a_line(head: bytes) -> bytes:
    """
    The beginning of a file up to the end of its last whole line; what is no text stays as it is.

    >>> cut_at_a_line(b"1,2\\n3,4\\n5,"), cut_at_a_line(b"12")
    (b'1,2\\n3,4\\n', b'12')
    """
    return head[: head.rfind(b"\n") + 1] if b"\n" in head and not head.startswith((NUMPY, ZIP, *PICTURES)) else head


def _holds_temperatures(path: Path) -> bool:
    try:
        tiff_values(path.read_bytes(), "Cannot read the picture", int(number("most_pixels")))
    except BadInput:
        return False
    return True


def _of_arrays(path: Path, head: bytes) -> str:
    if head.startswith(ZIP):
        return "capture" if b".npy" in head else "document"
    shape = re.search(rb"'shape': \((\d+), (\d+)\)", head[:1000])
    least = int(number("least_side"))
    if shape is not None and int(shape[1]) >= least and int(shape[2]) >= least:
        return "thermal picture"
    return "capture" if path.stat().st_size else "document"


def _of_text(path: Path, head: bytes) -> str:
    if b"\0" in head:
        return "document"
    first = next((line for line in head.splitlines() if line.strip() and not line.startswith(b"#")), b"")
    cells = {cell.strip().lower().decode("latin-1") for cell in re.split(rb"[,;\t]", first)}
    if {"point", "value"} <= cells and cells <= set(COLUMNS) | {""}:
        return "readings"
    if _many_columns(head):
        return "thermal picture"
    try:
        if _is_slow(read_meter_logs(path)):
            return "meter log"
    except BadInput:
        pass
    try:
        read_capture(path)
    except BadInput:
        return "document"
    return "capture"


def _many_columns(head: bytes) -> bool:
    """Whether most lines have as many numbers as a picture has columns."""
    least = int(number("least_side"))
    lines = [line for line in head.splitlines() if line.strip()]
    wide = [line for line in lines if len(re.findall(rb"[-+]?\d+(?:[.,]\d+)?", line)) >= least]
    return len(wide) > 1 and len(wide) * 2 > len(lines)


def _is_slow(logs: tuple[MeterLog, ...]) -> bool:
    """Whether the entries lie as far apart as a meter's; those of an oscilloscope lie far closer."""
    seconds = logs[0].seconds
    apart = np.diff(seconds[np.isfinite(seconds)])
    return len(apart) > 0 and float(np.median(apart)) >= setting("slowest_capture")

