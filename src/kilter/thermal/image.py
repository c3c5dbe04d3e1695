"""A temperature picture: one temperature for each pixel, with where it came from."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput
from kilter.thermal.figures import number

Floats = NDArray[np.float64]

ABSURD = 1e9
"""A number from here on is no temperature in any unit, but a mark for a pixel without one."""


@dataclass(frozen=True)
class TemperatureImage:
    """
    One picture.

    Args:
        celsius: Rows from the top, shape (h, w). [degC]
        source: Name of the file.
        sha256: Of the file's bytes, in hexadecimal.
        notes: What was inferred or left out, one sentence each.
    """

    celsius: Floats = field(repr=False)
    source: str = ""
    sha256: str = ""
    notes: tuple[str, ...] = ()


def filled(values: Floats, doing: str) -> tuple[Floats, str]:
    """
    The numbers with pixels that have none taken from their neighbours, and a sentence that says so.

    Raises:
        BadInput: More pixels are blank than can be filled, or the picture is too small or too large.
    """
    least, most = int(number("least_side")), int(number("most_pixels"))
    if values.ndim != 2 or min(values.shape) < least or values.size > most:
        size = " by ".join(map(str, values.shape)) or "one number"
        raise BadInput(doing, f"a table of {size} numbers", f"{least} rows and columns or more, up to {most} numbers",
                       "Export the temperature of every pixel of one picture.")  # fmt: skip
    blank = ~(np.abs(values) < ABSURD)
    values = np.where(blank, np.nan, values)
    share = float(blank.mean())
    if share > number("most_blank"):
        raise BadInput(doing, f"{100 * share:.1f} % of the pixels without a temperature",
                       f"up to {100 * number('most_blank'):g} %",
                       "Export the picture again, without overlays.")  # fmt: skip
    whole = values.astype(np.float64)
    for y, x in zip(*np.nonzero(blank), strict=True):
        about = values[max(y - 2, 0) : y + 3, max(x - 2, 0) : x + 3]
        near = about[np.isfinite(about)]
        whole[y, x] = np.median(near) if near.size else np.median(values[~blank])
    count = int(blank.sum())
    return whole, f"{count} pixels without a temperature were filled from their neighbours" if count else ""
