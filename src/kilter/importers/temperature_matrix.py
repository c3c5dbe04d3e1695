"""Temperature matrices: CSV by structure, TIFF with numbers of 16 bits or more, NumPy arrays."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kilter.importers.binary_files import read_bytes
from kilter.importers.temperature_text import text_values
from kilter.importers.text_files import read_text
from kilter.importers.tiff import tiff_values
from kilter.measure.errors import BadInput
from kilter.thermal.figures import number
from kilter.thermal.image import TemperatureImage, filled
from kilter.thermal.units import celsius, settle_unit, told_unit

BYTES_A_PIXEL = 20
"""Most bytes that one number takes in a file, with its separator."""

NUMPY = b"\x93NUMPY"
HEADER = re.compile(
    r"\{'descr': '([<>|][iu][1248]|[<>]f[248])', 'fortran_order': (True|False), 'shape': \((\d{1,9}), (\d{1,9})\),? *\}"
)
MOST_HEADER = 1000
OTHERS = {b"\xff\xd8": "a JPEG picture", b"\x89PNG": "a PNG picture", b"GIF8": "a GIF picture", b"PK": "a zip archive"}


def read_temperature_matrix(path: Path, unit: str = "") -> TemperatureImage:
    """
    The picture in a file; its bytes, not its ending, tell what it is.

    Args:
        path: Of a CSV, TIFF or .npy file.
        unit: Key of data/thermal.toml units, where a person says it; '' takes what the file says or what alone fits.

    Raises:
        BadInput: Not such a file, or its unit cannot be told.
    """
    doing = f"Cannot read the temperatures {path.name}"
    raw = read_bytes(path, doing, int(number("most_pixels")) * BYTES_A_PIXEL)
    values, told, notes = _values(path, raw, doing)
    whole, blank = filled(values, doing)
    unit, guess = settle_unit(whole, told, unit, doing)
    said = tuple(note for note in (*notes, blank, guess) if note)
    return TemperatureImage(celsius(whole, unit), path.name, hashlib.sha256(raw).hexdigest(), said)


def _values(path: Path, raw: bytes, doing: str) -> tuple[NDArray[np.float64], str, tuple[str, ...]]:
    """Numbers as in the file, the unit that it names, and sentences on what was inferred."""
    if raw.startswith(NUMPY):
        return _numpy_values(raw, doing), "", ()
    if raw[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        values, note = tiff_values(raw, doing, int(number("most_pixels")))
        return values, "", (note,)
    for start, words in OTHERS.items():
        if raw.startswith(start):
            raise BadInput(doing, f"{words}, which shows colours and not temperatures",
                           "a matrix of temperatures as CSV, 16-bit TIFF or NumPy array",
                           "Export the temperatures from the program that came with the camera.")  # fmt: skip
    table = text_values(read_text(path, "the temperatures"), doing)
    return table.values, told_unit(table.words), table.notes


def _numpy_values(raw: bytes, doing: str) -> NDArray[np.float64]:
    """The array of a .npy file; its header is read by its form, so that nothing in it is ever run."""
    long = raw[6:7] >= b"\x02"
    start = 12 if long else 10
    body = start + int.from_bytes(raw[8:start], "little")
    found = HEADER.match(raw[start : min(body, start + MOST_HEADER)].decode("latin-1"))
    if found is None:
        raise _bad_numpy(doing, "a header that does not tell of one table of numbers")
    type_, by_columns, shape = np.dtype(found[1]), found[2] == "True", (int(found[3]), int(found[4]))
    if shape[0] * shape[1] * type_.itemsize != len(raw) - body or not shape[0] * shape[1]:
        raise _bad_numpy(doing, f"{len(raw) - body} bytes where {shape[0]} by {shape[1]} numbers need others")
    flat = np.frombuffer(raw, type_, offset=body).astype(np.float64)
    return flat.reshape(shape[::-1]).T if by_columns else flat.reshape(shape)


def _bad_numpy(doing: str, found: str) -> BadInput:
    return BadInput(doing, found, "a .npy file with one array of rows and columns of numbers",
                    "Save one picture with numpy.save.")  # fmt: skip
