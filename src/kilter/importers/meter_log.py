"""
Meter logs: tables of times and values, read by their structure.

A unit may stand in the cell ('4.98 V'), in the head ('Voltage (V)'), or in a column of its own beside the value. Over
limit is 'OL', a word like it, or 9.9E37 (SCPI-99, volume 1, 7.2.1.5).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from itertools import islice
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kilter.importers.log_columns import Layout, decoded, layout_of, plain, split_line
from kilter.importers.log_times import Times, looks_like_time, read_times
from kilter.measure.errors import BadInput
from kilter.measure.notation import read_quantity
from kilter.signals.meter_log import Floats, MeterLog

MOST_ROWS = 2_000_000
TIME_NAMES = re.compile(r"(time|date|timestamp|elapsed|clock|datetime|zeit|datum|uhrzeit)", re.IGNORECASE)
NOT_VALUES = re.compile(r"(no\.?|n|nr\.?|index|sample|count|#|id|reading|min|max|avg|average|std)\W*$", re.IGNORECASE)
VALUE = re.compile(r"([<>]?\s*[+-]?\s*(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*([^\d\s][^\d]*)?$")
OVER = re.compile(r"[+-]?\s*(0\.?L\.?|\.?OL\.?|O\.L\.?|over.*|inf|∞)\s*(\S.*)?$", re.IGNORECASE)
NOTHING = {"", "nan", "-", "--", "---", "----", "n/a", "none", "null"}
INFINITE, NOT_A_NUMBER = 9.9e37, 9.91e37
TIME_UNITS = {
    "s": 1.0,
    "sec": 1.0,
    "seconds": 1.0,
    "ms": 1e-3,
    "min": 60.0,
    "minutes": 60.0,
    "h": 3600.0,
    "hours": 3600.0,
}


def read_meter_logs(path: Path | str) -> tuple[MeterLog, ...]:
    """
    The logs in a table, one for each column of values.

    Raises:
        BadInput: There is no column of values, or a cell can neither be read nor means 'nothing'.
    """
    path = Path(path)
    doing = f"Cannot read the meter log {path.name}"
    layout = layout_of(path, doing)
    rows = _rows(path, layout, doing)
    columns = [[row[i] for row in rows] for i in range(len(layout.head))]
    at_times = _time_columns(layout, columns)
    times, warnings = _times(layout, columns, at_times)
    logs = []
    for i, name in enumerate(layout.head):
        if i in at_times or not _holds_values(columns[i]) or (NOT_VALUES.match(name) and not layout.headless):
            continue
        beside = columns[i + 1] if i + 1 < len(columns) and i + 1 not in at_times else None
        logs.append(_log(path, name, columns[i], beside, times, layout, doing, warnings))
    if not logs:
        raise BadInput(doing, f"no column of values among {', '.join(layout.head)[:80]} in {path.name}",
                       "a column of numbers beside the time", "Check that this is the log that was meant.")  # fmt: skip
    return tuple(logs)


def _rows(path: Path, layout: Layout, doing: str) -> list[tuple[str, ...]]:
    width, rows = len(layout.head), []
    with path.open("rb") as file:
        for number, raw in enumerate(islice(file, layout.first, layout.first + MOST_ROWS + 1), layout.first + 1):
            row = split_line(decoded(raw), layout.delimiter)
            if not any(row):
                continue
            if len(row) < width - 1 and not raw.endswith(b"\n"):
                break  # cut off in the middle of a line
            if len(row) > width or b"\0" in raw:
                raise BadInput(doing, f"{len(row)} cells under {width} headings at {path.name} line {number}",
                               "as many cells as headings", "Correct that line or export again.")  # fmt: skip
            rows.append((*row, *[""] * (width - len(row))))
    if len(rows) > MOST_ROWS:
        raise BadInput(doing, f"more than {MOST_ROWS} lines", f"up to {MOST_ROWS}", "Export a shorter stretch.")
    return rows


def _time_columns(layout: Layout, columns: Sequence[Sequence[str]]) -> list[int]:
    """Columns that make up the time: written as one, or a date and a clock."""
    clocks = [i for i, cells in enumerate(columns) if looks_like_time(cells[:50])]
    if clocks:
        return clocks[:2] if len(clocks) > 1 and clocks[1] == clocks[0] + 1 else clocks[:1]
    return [i for i, name in enumerate(layout.head) if TIME_NAMES.search(name) or name.lower() in ("t", "t(s)")][:1]


def _times(layout: Layout, columns: Sequence[Sequence[str]], at: Sequence[int]) -> tuple[Times, list[str]]:
    if not at:
        told = Times(np.zeros(len(columns[0])), "")
        return told, ["The table has no times: drift cannot be told."]
    cells = [" ".join(parts) for parts in zip(*(columns[i] for i in at), strict=True)]
    cells = [plain(cell, comma=layout.comma) if ":" not in cell else cell for cell in cells]
    found = re.search(r"[\[(/]\s*(\w+)\s*[\])]?\s*$", layout.head[at[0]])
    unit = TIME_UNITS.get(found[1].lower(), 1.0) if found else 1.0
    times = read_times(cells, unit=unit)
    return times, list(times.doubts)


def _holds_values(cells: Sequence[str]) -> bool:
    told = [cell for cell in cells[:200] if cell.lower() not in NOTHING]
    good = [cell for cell in told if VALUE.match(cell.replace(",", ".")) or OVER.match(cell)]
    return bool(told) and len(good) * 2 > len(told)


def _log(path: Path, name: str, cells: Sequence[str], beside: Sequence[str] | None, times: Times, layout: Layout,
         doing: str, warnings: Sequence[str]) -> MeterLog:  # fmt: skip
    said = list(warnings)
    head = re.search(r"[\[(/]\s*([^\[\]()/]+?)\s*[\])]?\s*$", name)
    values, units = np.full(len(cells), np.nan), set[str]()
    for i, cell in enumerate(cells):
        number, unit = _cell(plain(cell, comma=layout.comma), f"{path.name} line {layout.first + 1 + i}", doing)
        unit = unit or (beside[i] if beside is not None and _unit(beside[i]) else "") or (head[1] if head else "")
        known = _unit(unit) or _unit(name)
        if known and not np.isnan(number):
            units.add(known[0])
            number *= known[1]
        values[i] = number
    if len(units) > 1:
        raise BadInput(doing, f"values in {' and in '.join(sorted(units))} under '{name}' in {path.name}",
                       "one quantity in each column", "Split the log where the meter was switched.")  # fmt: skip
    if not units:
        said.append(f"No unit is told for '{name}'.")
    return _sorted(f"{path.name}, {name}", units.pop() if units else "", times, values,
                   np.array([bool(cell) for cell in cells], np.bool_), said)  # fmt: skip


def _sorted(
    source: str, unit: str, times: Times, values: Floats, written: NDArray[np.bool_], said: list[str]
) -> MeterLog:
    """Entries without value or time are left out, with a word where something was written; the others are sorted."""
    kept = ~np.isnan(values) & np.isfinite(times.seconds)
    lost = int((written & ~kept).sum())
    if lost:
        said.append(f"{lost} of {int(written.sum())} entries have no value or no time and are left out.")
    seconds, values = times.seconds[kept], values[kept]
    if (np.diff(seconds) < 0).any():
        said.append("The times run backwards in places; the entries were put in order.")
        order = np.argsort(seconds, kind="stable")
        seconds, values = seconds[order], values[order]
    return MeterLog(source, unit, seconds, values, times.began, tuple(said))


def _cell(cell: str, place: str, doing: str) -> tuple[float, str]:
    """Number and unit of a cell; infinite for over limit, NaN for nothing."""
    if cell.lower() in NOTHING:
        return np.nan, ""
    if over := OVER.match(cell):
        return (-np.inf if cell.startswith("-") else np.inf), over[2] or ""
    match = VALUE.match(cell)
    if match is None or match[1].startswith(("<", ">")):
        raise BadInput(doing, f"the cell '{cell[:40]}' at {place}", "a number, perhaps with a unit, OL, or nothing",
                       "Correct that cell.")  # fmt: skip
    number = float(match[1].replace(" ", ""))
    if abs(number) >= INFINITE:
        return (np.nan if abs(number) >= NOT_A_NUMBER * 0.9999 else float(np.copysign(np.inf, number))), match[2] or ""
    return number, match[2] or ""


@lru_cache(maxsize=512)
def _unit(text: str) -> tuple[str, float] | None:
    """
    Key and factor of a written unit, None where it is none.

    >>> _unit("mV DC"), _unit("VAC"), _unit("kOhm"), _unit("Channel 1")
    (('V', 0.001), ('V AC', 1.0), ('ohm', 1000.0), None)
    """
    plainly = re.sub(r"^(DC|dc)[\s_]+|[\s_]*(DC|dc|=)$", "", text.strip())
    plainly = re.sub(r"^(AC|ac)[\s_]+(.*)$", r"\2 AC", plainly)
    plainly = re.sub(r"[\s_]*(AC|ac|~)$", " AC", plainly)
    if not plainly or len(plainly) > 12 or plainly[0].isdigit():
        return None
    try:
        found = read_quantity(f"1 {plainly}")
    except BadInput:
        return None
    return (found.unit, found.value) if found.unit else None
