"""Captures as NumPy arrays: .npy, and .npz with named arrays and an interval or rate beside them; nothing pickled."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kilter.importers.captures.open_file import refused, sha256_of
from kilter.importers.captures.time_axis import TimeAxis, is_time_like, time_axis
from kilter.signals.settings import setting
from kilter.signals.waveform import Capture, Floats, Waveform

TIMES = ("t", "time", "times", "x", "time_s")
INTERVALS = ("dt", "interval", "sample_interval", "tinc", "xinc", "period")
RATES = ("fs", "rate", "sample_rate", "samplerate", "sr", "frequency")
BROKEN = (ValueError, OSError, EOFError, KeyError, MemoryError, zipfile.BadZipFile, zlib.error, NotImplementedError,
          RuntimeError, TypeError, SyntaxError, OverflowError, UnicodeError)  # fmt: skip


def read_numpy(path: Path, interval: float | None = None) -> Capture:
    """
    The waveforms of an array file.

    Args:
        path: .npy: one channel, or a table with one channel (and perhaps the time) in each column or row. .npz: one
            channel per array, time as 't' or 'time', or 'dt' or 'fs' as a number.
        interval: Sample interval that the person gives where the file tells none. [s]

    Raises:
        BadInput: Damaged, too large, of objects, or without samples.
    """
    try:
        arrays = _arrays(path)
    except BROKEN as error:
        raise refused(path, f"an array file that cannot be read ({str(error)[:80] or type(error).__name__})",
                      "arrays of plain numbers, saved without pickling",
                      "Save it again with numpy.save.") from None  # fmt: skip
    waves = _waveforms(path, arrays, interval)
    if not waves:
        allowed = "one-dimensional arrays, or tables of a few columns"
        raise refused(path, "no array of samples", allowed, "Save the samples.")
    return Capture(path.name, sha256_of(path), waves)


def _arrays(path: Path) -> dict[str, NDArray[Any]]:
    limit = int(setting("largest_samples")) * 8
    with path.open("rb") as file:
        packed = file.read(2) == b"PK"
    if not packed:
        array = np.load(path, mmap_mode="r", allow_pickle=False)
        if array.nbytes > limit:
            raise ValueError(f"{array.nbytes} bytes of numbers; up to {limit} are read")
        return {"": array}
    with zipfile.ZipFile(path) as bundle:
        told = sum(entry.file_size for entry in bundle.infolist())
        if told > limit or len(bundle.infolist()) > 1000:
            raise ValueError(f"{told} bytes of numbers when unpacked; up to {limit} are read")
    with np.load(path, allow_pickle=False) as bundle_of_arrays:
        return {name: bundle_of_arrays[name] for name in bundle_of_arrays.files}


def _waveforms(path: Path, arrays: Mapping[str, NDArray[Any]], given: float | None) -> tuple[Waveform, ...]:
    low = {name.lower(): name for name in arrays}
    told = next((_number(arrays[low[key]]) for key in INTERVALS if key in low and arrays[low[key]].size == 1), None)
    rate = next((_number(arrays[low[key]]) for key in RATES if key in low and arrays[low[key]].size == 1), None)
    told = told or (1.0 / rate if rate else None)
    times = next((arrays[low[key]] for key in TIMES if key in low and arrays[low[key]].ndim == 1), None)
    axis = None if times is None or len(times) < 3 else time_axis(_floats(times), 0.0, told)
    waves: list[Waveform] = []
    for name, array in arrays.items():
        if array.dtype.kind not in "iufb" or array.size < 2 or name.lower() in TIMES:
            continue
        if array.ndim == 1:
            waves.append(_waveform(name or path.stem, _floats(array), axis, told or given))
        elif array.ndim == 2:
            waves += _table(path, name, _floats(array), told or given)
    return tuple(waves)


def _table(path: Path, name: str, table: Floats, told: float | None) -> list[Waveform]:
    """Channels of a table whose longer side is time."""
    table = table if table.shape[0] >= table.shape[1] else table.T
    if table.shape[1] > 64 or table.shape[0] < 2:
        found = f"a table of {table.shape[0]} by {table.shape[1]}"
        raise refused(path, found, "up to 64 channels", "Save fewer channels.")
    has_time = table.shape[1] > 1 and is_time_like(table[:, 0])
    axis = time_axis(np.ascontiguousarray(table[:, 0]), 0.0, told) if has_time else None
    first = 1 if axis else 0
    return [
        _waveform(f"{name} {one + 1 - first}".strip() if name else f"channel {one + 1 - first}",
                  np.ascontiguousarray(table[:, one]), axis, told)
        for one in range(first, table.shape[1])
    ]  # fmt: skip


def _waveform(name: str, values: Floats, axis: TimeAxis | None, told: float | None) -> Waveform:
    doubts = ["The file names no unit; taken as volts."]
    if axis is not None and axis.rows.stop <= len(values):
        return Waveform(name, values[axis.rows], axis.interval, axis.start, warnings=(*doubts, *axis.doubts))
    if told is None:
        doubts.append("The file tells no sample interval.")
    return Waveform(name, values, told, warnings=tuple(doubts))


def _floats(array: NDArray[Any]) -> Floats:
    found = np.array(array, dtype=np.float64)
    found[~np.isfinite(found)] = np.nan
    return found


def _number(array: NDArray[Any]) -> float | None:
    value = float(array.reshape(-1)[0]) if array.dtype.kind in "iuf" else 0.0
    return value if 0 < value < float("inf") else None
