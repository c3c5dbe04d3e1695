"""A capture from a file of any known form."""

from __future__ import annotations

from pathlib import Path

from kilter.importers.captures.numpy_arrays import read_numpy
from kilter.importers.captures.open_file import first_bytes
from kilter.importers.captures.table_text import read_table_text
from kilter.importers.captures.wav import read_wav
from kilter.signals.waveform import Capture


def read_capture(path: Path | str, *, interval: float | None = None, full_scale: float | None = None) -> Capture:
    """
    The capture of a file: text table, WAV, or NumPy, told by its first bytes.

    Args:
        path: The file.
        interval: Sample interval, for files that tell none. [s]
        full_scale: Voltage of the largest code of a WAV file. [V]

    Raises:
        BadInput: The file cannot be read as a capture.
    """
    path = Path(path)
    head = first_bytes(path)
    if head[:4] == b"RIFF" and head[8:12] == b"WAVE":
        return read_wav(path, full_scale)
    if head[:6] == b"\x93NUMPY" or head[:4] == b"PK\x03\x04":
        return read_numpy(path, interval)
    return read_table_text(path, head, interval)
