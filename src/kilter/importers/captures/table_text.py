"""Captures as tables of numbers in a text file, read by their structure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from kilter.importers.captures.header_words import (
    TimeTold,
    Unit,
    is_count_name,
    is_time_name,
    number_of,
    time_told,
    unit_of,
)
from kilter.importers.captures.open_file import refused, sha256_of
from kilter.importers.captures.table_layout import Layout, layout_of
from kilter.importers.captures.table_numbers import Numbers, read_numbers
from kilter.importers.captures.time_axis import TimeAxis, is_time_like, quantum_of, rises, time_axis
from kilter.signals.waveform import Capture, Waveform

MOST_REMARKS = 60


@dataclass(frozen=True, slots=True)
class _Column:
    place: int
    names: tuple[str, ...]  # headings over the column, from the top
    unit: Unit | None
    is_time: bool
    is_count: bool


def read_table_text(path: Path, head: bytes, interval: float | None = None) -> Capture:
    """
    The capture of a text file.

    Args:
        path: The file.
        head: Its first bytes.
        interval: Sample interval that the person gives where the file tells none. [s]

    Raises:
        BadInput: No table of numbers, or no column of samples.
    """
    layout = layout_of(path, head)
    numbers = read_numbers(path, layout)
    told = time_told([*layout.header, *_besides(layout)])
    columns = _columns(layout, numbers)
    doubts = [*told.doubts, *_torn(numbers)]
    waves = _waveforms(layout, numbers, columns, told, interval)
    if not waves:
        raise refused(path, "a time column but no column of samples", do_next="Export at least one channel.")
    return Capture(path.name, sha256_of(path), waves, _remarks(layout), tuple(doubts))


def _torn(numbers: Numbers) -> list[str]:
    doubts = []
    if numbers.torn:
        doubts.append(f"Lines among the numbers that are no rows of the table, and were left out: {numbers.torn}.")
    if numbers.gaps:
        doubts.append(f"Cells without a number: {numbers.gaps}.")
    return doubts


def _besides(layout: Layout) -> list[tuple[str, ...]]:
    """Remarks that stand in columns beside the numbers."""
    width = layout.columns[0]
    return [row[:width] for row in layout.beside if any(row[:width])] if width else []


def _remarks(layout: Layout) -> dict[str, str]:
    found: dict[str, str] = {}
    for row in [*layout.header, *_besides(layout)]:
        words = [cell for cell in row if cell]
        if len(words) == 1 and ":" in words[0]:
            words = [part.strip() for part in words[0].split(":", 1)]
        if len(words) >= 2 and not number_of(words[0]) and len(found) < MOST_REMARKS:
            found.setdefault(words[0].strip("#: ")[:60], " ".join(words[1:])[:120])
    return found


def _columns(layout: Layout, numbers: Numbers) -> list[_Column]:
    """What each column of numbers is; running numbers are left out where there is a time."""
    headings = _headings(layout)
    found = [_column(layout, numbers, headings, order, place) for order, place in enumerate(layout.columns)]
    if any(one.is_time for one in found):
        return [one for one in found if not one.is_count]
    return found


def _headings(layout: Layout) -> list[tuple[str, ...]]:
    """The last lines before the numbers that have a cell for each column."""
    count, width = len(layout.columns), layout.columns[-1] + 1
    lines = layout.header
    if layout.delimiter is None and count == 1:
        lines = tuple((" ".join(row),) for row in lines)
    fitting = [row for row in lines if any(row) and (len(row) >= width or len(row) == count)]
    named = [row for row in fitting if not any(re.search(r"[:=]", cell) for cell in row)]
    return [row for row in named[-3:] if not _is_remark(row, count)]


def _is_remark(row: tuple[str, ...], count: int) -> bool:
    """A line 'key, value' such as 'Vertical Scale, 0.05' names no columns."""
    words = [cell for cell in row if cell]
    numbers = [word for word in words if number_of(word)]
    key = bool(words) and not is_time_name(words[0]) and not is_count_name(words[0]) and unit_of(words[0]) is None
    return key and len(words) <= max(count, 2) and len(numbers) == len(words) - 1 and count > 1


def _column(layout: Layout, numbers: Numbers, headings: list[tuple[str, ...]], order: int, place: int) -> _Column:
    values = numbers.table[:, order]
    words = [_cell(row, place, order, len(layout.columns)).lstrip("#").strip() for row in headings]
    words = [word for word in words if word]
    unit = next((one for one in map(unit_of, reversed(words)) if one), None)
    names = [word for word in words if not _is_bare_unit(word)]
    name = names[-1] if names else ""
    named_time = any(is_time_name(word) for word in words)
    of_time = unit is not None and unit.what == "time"
    steady = is_time_like(values)
    counting = steady and bool(np.all(np.diff(values[:1000]) == 1))
    counted = is_count_name(name) or named_time or not words or order == 0
    is_count = counting and counted and not of_time
    told_time = of_time or (named_time and unit is None)
    is_time = not is_count and ((told_time and rises(values)) or (steady and order == 0 and unit is None))
    return _Column(order, tuple(names), unit, is_time, is_count)


def _cell(row: tuple[str, ...], place: int, order: int, count: int) -> str:
    """The heading over a column; headings may stand flush left where the numbers are set in."""
    if place < len(row):
        return row[place]
    return row[order] if len(row) == count else ""


def _is_bare_unit(word: str) -> bool:
    return unit_of(word) is not None and not set(" ([/_") & set(word.strip("() []")) and len(word) < 13


def _waveforms(
    layout: Layout, numbers: Numbers, columns: list[_Column], told: TimeTold, given: float | None
) -> tuple[Waveform, ...]:
    waves: list[Waveform] = []
    axis: TimeAxis | None = None
    counted = any(column.is_count for column in columns)
    names = iter(_names([column for column in columns if not column.is_time and not column.is_count]))
    for column in columns:
        if column.is_time:
            axis = _axis(layout, numbers, column, told)
        elif not column.is_count:
            waves.append(_waveform(numbers, column, axis, told, given, next(names), counted=counted))
    return tuple(waves)


def _names(columns: list[_Column]) -> list[str]:
    """The name of each column: from the lowest line of headings that tells the columns apart."""
    deepest = max((len(column.names) for column in columns), default=0)
    rows = [[column.names[-1 - up] if up < len(column.names) else "" for column in columns] for up in range(deepest)]
    apart = [row for row in rows if all(row) and len({name.lower() for name in row}) == len(columns)]
    chosen = (apart or rows or [[""] * len(columns)])[0]
    return [name or f"channel {place}" for place, name in enumerate(chosen, 1)]


def _axis(layout: Layout, numbers: Numbers, column: _Column, told: TimeTold) -> TimeAxis | None:
    factor = column.unit.factor if column.unit else 1.0
    place = layout.columns[column.place]
    written = [row[place] for row in layout.samples if place < len(row) and number_of(row[place])]
    times = numbers.table[:, column.place]
    largest = float(np.nanmax(np.abs(times)))
    return time_axis(times, quantum_of(written, largest) * factor, told.interval, factor)


def _waveform(
    numbers: Numbers,
    column: _Column,
    axis: TimeAxis | None,
    told: TimeTold,
    given: float | None,
    name: str,
    *,
    counted: bool,
) -> Waveform:
    unit, doubts = column.unit, []
    rows = axis.rows if axis else slice(0, len(numbers.table))
    values = np.ascontiguousarray(numbers.table[rows, column.place])
    if unit is not None and unit.what != "time" and unit.factor != 1.0:
        values *= unit.factor
    if unit is None or unit.what == "time":
        doubts.append("The file names no unit; taken as volts.")
    interval = axis.interval if axis else told.interval or given
    if axis:
        doubts += axis.doubts
    elif interval is None:
        doubts.append("The file tells no sample interval" + (", only running numbers." if counted else "."))
    elif told.interval is None:
        doubts.append("The sample interval was given by hand.")
    return Waveform(
        name=name,
        values=values,
        interval=interval,
        start=axis.start if axis else told.start or 0.0,
        unit=unit.what if unit and unit.what != "time" else "V",
        interval_uncertainty=axis.uncertainty if axis else 0.0,
        warnings=tuple(doubts),
    )
