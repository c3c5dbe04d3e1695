"""A capture from a file of any known form."""

from __future__ import annotations

from dataclasses import replace
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
        return _told_apart(read_numpy(path, interval))
    return _told_apart(read_table_text(path, head, interval))


def _told_apart(capture: Capture) -> Capture:
    """Channels that the file gives one name get their place behind it: a name stands for one channel."""
    low = [wave.name.lower() for wave in capture.waveforms]
    named = [
        replace(wave, name=f"{wave.name}, column {place}") if low.count(low[place - 1]) > 1 else wave
        for place, wave in enumerate(capture.waveforms, 1)
    ]
    return replace(capture, waveforms=tuple(named))
