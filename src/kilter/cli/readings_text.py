"""Readings as lines of a readings file, so that what an instrument told goes on to `kilter diagnose`."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.records.reading import Reading

HEAD = ("point", "quantity", "value", "uncertainty", "instrument", "state", "time", "who", "doubtful", "note")


def readings_csv(readings: Iterable[Reading], *, head: bool = True) -> str:
    """
    The readings as CSV.

    >>> print(readings_csv([Reading("clk", "level", None, "low", state="on")]).splitlines()[1])
    clk,level,low,,,on,,,,
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    if head:
        writer.writerow(HEAD)
    for one in readings:
        unit = quantity(one.quantity).unit
        value = one.word if one.value is None else _number(one.value, unit)
        spread = "" if one.value is None or abs(one.value) == float("inf") else _number(one.uncertainty, unit)
        doubtful = "yes" if one.doubtful else ""
        writer.writerow([one.point, one.quantity, value, spread, one.instrument, one.state, one.time, one.who, doubtful,
                         one.note])  # fmt: skip
    return text.getvalue()


def write_readings(path: Path, readings: Iterable[Reading]) -> None:
    """
    Writes them to a new file, or adds them to a readings file with the same head.

    Raises:
        BadInput: The file is something else, or cannot be written.
    """
    head = ",".join(HEAD) + "\n"
    try:
        there = path.read_text("utf-8") if path.exists() else ""
        if there and not there.startswith(head):
            raise BadInput(f"Cannot write the readings {path.name}", "a file with another head",
                           f"a new name, or a file that begins with '{head.strip()}'", "Choose another name.",
                           )  # fmt: skip
        with path.open("a", encoding="utf-8", newline="") as file:
            file.write(readings_csv(readings, head=not there))
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput(f"Cannot write the readings {path.name}", str(error)[:80], "a file that can be written",
                       "Choose another name or place.") from None  # fmt: skip


def _number(value: float, unit: str) -> str:
    return "OL" if abs(value) == float("inf") else f"{value:.9g} {unit}".strip()
