"""Write readings into a file that the readings file's reader understands."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.records.reading import Reading

COLUMNS = ("point", "quantity", "value", "uncertainty", "instrument", "state", "note", "time", "who", "doubtful")


def write_readings(readings: Sequence[Reading], path: Path) -> Path:
    """
    Writes readings as CSV; a file that is there already is left alone.

    Raises:
        BadInput: The file is there, or cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(COLUMNS)
            writer.writerows(_row(one) for one in readings)
    except OSError as error:
        raise BadInput("Cannot write the readings", f"'{path}': {error.strerror}", "a new file in a folder of yours",
                       "Name another folder, or move the old file away.") from None  # fmt: skip
    return path


def _row(one: Reading) -> tuple[str, ...]:
    unit = quantity(one.quantity).unit
    value = one.word if one.value is None else f"{one.value:.6g} {unit}".strip()
    spread = "" if one.value is None else f"{one.uncertainty:.3g} {unit}".strip()
    doubt = "yes" if one.doubtful else ""
    return one.point, one.quantity, value, spread, one.instrument, one.state, one.note, one.time, one.who, doubt
