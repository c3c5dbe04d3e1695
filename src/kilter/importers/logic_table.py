"""
Tables of logic analysers: a time column and one column per line, or one column with the bits of all lines.

Without a time column a sample rate must stand above the table. Cells may be 0, 1, L, H, low, high, x or z; a word of
bits is binary as long as the first one ('0101') or begins with 0x.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kilter.importers.log_columns import Layout, decoded, layout_of, plain, split_line
from kilter.measure.errors import BadInput
from kilter.signals.logic_lines import FLOATING, HIGH, LOW, UNKNOWN, LogicCapture, LogicLine, where_it_changes

Floats = NDArray[np.float64]

MOST_ROWS = 5_000_000
CHUNK = 200_000
SECONDS = {
    "s": 1.0,
    "sec": 1.0,
    "seconds": 1.0,
    "ms": 1e-3,
    "us": 1e-6,
    "µs": 1e-6,
    "μs": 1e-6,
    "ns": 1e-9,
    "ps": 1e-12,
}
HERTZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
TIME_NAMES = re.compile(r"(time|t|timestamp|seconds|sec|zeit|temps)\b", re.IGNORECASE)
RATE = re.compile(r"(?:sample|sampling)\s*-?\s*rate\W*?([\d.]+)\s*([kmg]?hz)", re.IGNORECASE)
WORDS = {"0": LOW, "l": LOW, "low": LOW, "1": HIGH, "h": HIGH, "high": HIGH, "z": FLOATING, "x": UNKNOWN, "": UNKNOWN,
         "0.0": LOW, "1.0": HIGH, "false": LOW, "true": HIGH}  # fmt: skip
TICKS = (1e-12, 1e-9, 1e-6)
MOST_TICKS = 2.0**53


def read_logic_table(path: Path) -> LogicCapture:
    """
    The capture in a table.

    Raises:
        BadInput: It has no times and no sample rate, or cells that are no levels.
    """
    doing = f"Cannot read the logic capture {path.name}"
    layout = layout_of(path, doing)
    at_time = _time_column(layout)
    warnings: list[str] = []
    unit = _time_unit(layout, at_time, doing, warnings)
    columns = _line_columns(layout, at_time, doing)
    times, words = _table(path, layout, at_time, columns, doing)
    seconds = np.arange(len(times)) / unit if at_time is None else times * unit
    if (np.diff(seconds) < 0).any():
        row = int(np.flatnonzero(np.diff(seconds) < 0)[0]) + 2
        raise BadInput(doing, f"a time before the one above it at data line {row}", "times that do not run backwards",
                       "Sort or export the table again.")  # fmt: skip
    return _capture(path, seconds, [(name, words[:, i]) for i, (_, name, _) in enumerate(columns)], warnings,
                    [width for _, _, width in columns], doing)  # fmt: skip


def _time_column(layout: Layout) -> int | None:
    named = [i for i, name in enumerate(layout.head) if TIME_NAMES.match(name)]
    if named:
        return named[0]
    first = [row[0] for row in layout.sample]
    return 0 if any(re.search(r"[.,eE]", cell) for cell in first) else None


def _time_unit(layout: Layout, at: int | None, doing: str, warnings: list[str]) -> float:
    """Seconds in a unit of the time column; without one, the sample rate. [s or Hz]"""
    if at is None:
        rate = next((match for line in layout.preamble if (match := RATE.search(line))), None)
        if rate is None or not float(rate[1] if rate[1].strip(".") else 0):
            raise BadInput(doing, f"the columns {', '.join(layout.head)[:80]} without a time",
                           "a column named time, or a line 'sample rate: 1 MHz' above the table",
                           "Export it with times.")  # fmt: skip
        return float(rate[1]) * HERTZ[rate[2].lower()]
    unit = re.search(r"[\[(/]\s*(\w+)\s*[\])]?", layout.head[at])
    if unit and unit[1].lower() in SECONDS:
        return SECONDS[unit[1].lower()]
    if unit:
        raise BadInput(doing, f"the unit '{unit[1][:20]}' of the time column", ", ".join(SECONDS), "Correct the head.")
    warnings.append("The time column has no unit; seconds are assumed.")
    return 1.0


def _line_columns(layout: Layout, at_time: int | None, doing: str) -> list[tuple[int, str, int]]:
    """Column, name and width in bits of everything that holds levels."""
    found = []
    for i, name in enumerate(layout.head):
        cells = [row[i] for row in layout.sample if row[i]]
        if i == at_time or not cells or re.fullmatch(r"(sample|index|#|n|no\.?)\W*\w*", name, re.IGNORECASE):
            continue
        if all(cell.lower() in WORDS for cell in cells):
            found.append((i, name, 1))
        elif all(re.fullmatch(r"[01]{2,52}", cell) for cell in cells):
            found.append((i, name, max(map(len, cells))))
        elif all(re.fullmatch(r"0x[0-9a-fA-F]{1,13}", cell) for cell in cells):
            found.append((i, name, 4 * max(len(cell) - 2 for cell in cells)))
    if not found:
        raise BadInput(doing, f"no column of logic levels among {', '.join(layout.head)[:80]}",
                       "columns of 0 and 1, words of bits such as 0101, or 0x1F",
                       "Export the lines as digital.")  # fmt: skip
    return found


def _table(
    path: Path, layout: Layout, at_time: int | None, columns: list[tuple[int, str, int]], doing: str
) -> tuple[Floats, Floats]:
    """Times and words, shapes (rows,) and (rows, columns)."""
    readers: dict[int, Callable[[str], float]] = {i: _reader(width) for i, _, width in columns}
    if at_time is not None:
        readers[at_time] = lambda cell: float(plain(cell, comma=layout.comma))
    order = [i for i, _, _ in columns]
    times: list[Floats] = []
    words: list[Floats] = []
    rows = layout.first
    for chunk in _chunks(path, layout):
        try:
            cells = [split_line(line, layout.delimiter) for line in chunk if line.strip()]
            times.append(np.array([readers[at_time](row[at_time]) for row in cells] if at_time is not None
                                  else [0.0] * len(cells)))  # fmt: skip
            words.append(np.array([[readers[i](row[i]) for i in order] for row in cells]).reshape(-1, len(order)))
        except (ValueError, IndexError, KeyError) as error:
            raise BadInput(doing, f"a cell that is no level or time ({str(error)[:60]}) after {path.name} line {rows}",
                           "a time and levels in each line",
                           "Correct that line or export again.") from None  # fmt: skip
        rows += len(chunk)
        if rows > MOST_ROWS:
            raise BadInput(doing, f"more than {MOST_ROWS} lines", f"up to {MOST_ROWS}", "Export it as VCD instead.")
    if not all(np.isfinite(one).all() for one in times):
        raise BadInput(doing, "a time that is no finite number", "finite times", "Export it again.")
    return np.concatenate(times), np.concatenate(words)


def _chunks(path: Path, layout: Layout) -> Iterator[list[str]]:
    with path.open("rb") as file:
        for _ in islice(file, layout.first):
            pass
        while chunk := [decoded(line) for line in islice(file, CHUNK)]:
            yield chunk


def _reader(width: int) -> Callable[[str], float]:
    """Reads a level, or a word of bits as a whole number."""
    if width == 1:
        return lambda cell: float(WORDS[cell.lower()])
    return lambda cell: float(int(cell, 16) if cell.startswith("0x") else int(cell, 2))


def _capture(path: Path, seconds: Floats, columns: list[tuple[str, Floats]], warnings: list[str], widths: list[int],
             doing: str) -> LogicCapture:  # fmt: skip
    span = float(seconds[-1] - seconds[0])
    tick = next((one for one in TICKS if max(span, abs(float(seconds[0]))) / one < MOST_TICKS), None)
    if tick is None:
        raise BadInput(doing, f"a capture of {span:.3g} s", f"up to {TICKS[-1] * MOST_TICKS:.3g} s", "Export less.")
    ticks = np.round(seconds / tick).astype(np.int64)
    apart = np.diff(ticks)
    apart = apart[apart > 0]
    even = len(apart) > 1 and float(apart.max()) < 1.01 * float(apart.min()) + 2
    step = int(np.median(apart) if even else apart.min()) if len(apart) else 1
    lines: dict[str, LogicLine] = {}
    for (name, words), width in zip(columns, widths, strict=True):
        lines |= _lines(name, width, ticks, words)
    if not even and len(apart):
        warnings.append("The lines of the table are not evenly spaced; its shortest distance is taken as the step.")
    return LogicCapture(source=path.name, tick=tick, start=int(ticks[0]), end=int(ticks[-1]) + (step if even else 0),
                        step=step, lines=lines, warnings=tuple(warnings), stepped=bool(even))  # fmt: skip


def _lines(name: str, width: int, ticks: NDArray[np.int64], words: Floats) -> dict[str, LogicLine]:
    found = {}
    last = np.flatnonzero(np.concatenate([ticks[1:] != ticks[:-1], [True]]))
    for bit in range(width):
        levels = words if width == 1 else np.floor(words / 2.0**bit) % 2
        coded = levels[last].astype(np.uint8)
        kept = where_it_changes(coded)
        line = name if width == 1 else f"{name}[{bit}]"
        found[line] = LogicLine(line, ticks[last][kept], coded[kept])
    return found
