"""The log of a soak that is followed: a line for each round, kept before the next question, whole after a crash."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.planning.soak.channel import Channel
from kilter.services.follow_soak import Row
from kilter.services.read_live import utc_now

CUT_OFF = "a line that was cut off: "


class SoakLog:
    """
    One log on disk, a column for each channel; `kilter soak judge` reads it.

    Lines are only ever added. Where a crash left half a line at the end, it is taken out of the table and kept, word
    for word, in the note of the next line, so that half a number never counts as a value.

    Args:
        path: Made where it is not there; an existing one of the same channels is continued.
        channels: What is logged.
        now: The clock.

    Raises:
        BadInput: The file is something else, or cannot be read or written.
    """

    def __init__(self, path: Path, channels: Sequence[Channel], now: Callable[[], str] = utc_now) -> None:
        self.path, self.channels, self.now = path, tuple(channels), now
        self.rows: list[Row] = []
        self.began: datetime | None = None
        head = _line(["time", *(f"{one.name} ({one.unit})" if one.unit else one.name for one in channels), "note"])
        there = self._there()
        whole, _, half = there.rpartition(b"\n")
        if not there or (not whole and head.startswith(half)):
            self._write(head[len(half) :])  # new, or cut off within its heading
            return
        if not (whole + b"\n").startswith(head):
            raise self._bad("a file that is no log of these channels", "a new name, or such a log to be continued")
        for text in (whole + b"\n")[len(head) :].decode("utf-8", "replace").splitlines():
            self._take(text)
        if half:
            self._mend(len(whole) + 1, half)

    def keep(self, row: Row) -> None:
        """
        Adds a line and waits until it is on the disk.

        Raises:
            BadInput: It cannot be written.
        """
        self._add(row.values, row.note)

    def hours(self, at: str) -> float:
        """Hours from the first entry to a time; 0 where there is none yet. [h]"""
        moment = datetime.fromisoformat(at)
        if self.began is None:
            self.began = moment
        return (moment - self.began).total_seconds() / 3600

    def _take(self, text: str) -> None:
        """A line of an earlier run; one without values, such as that of a crash, is left out."""
        cells = next(csv.reader([text]), [])
        try:
            values = tuple(float(cell.replace("OL", "inf")) if cell else None for cell in cells[1:-1])
            hours = self.hours(cells[0])
        except (ValueError, TypeError, IndexError):
            raise self._bad(f"the line '{text[:60]}'", "time, a value for each channel, note") from None
        if len(values) != len(self.channels):
            raise self._bad(f"{len(values)} values in '{text[:60]}'", f"{len(self.channels)} values")
        if any(value is not None for value in values):
            self.rows.append(Row(hours, values, cells[-1]))

    def _mend(self, size: int, half: bytes) -> None:
        try:
            os.truncate(self.path, size)
        except OSError as error:
            raise self._bad(error.strerror or "an error of the disk", "a file that can be written") from None
        self._add([None] * len(self.channels), CUT_OFF + half.decode("utf-8", "replace"))

    def _add(self, values: Sequence[float | None], note: str) -> None:
        cells = ["" if one is None else ("-OL" if one < 0 else "OL") if abs(one) == float("inf") else repr(one)
                 for one in values]  # fmt: skip
        self._write(_line([self.now(), *cells, " ".join(note.split())]))

    def _there(self) -> bytes:
        try:
            return self.path.read_bytes()
        except FileNotFoundError:
            return b""
        except OSError as error:
            raise self._bad(error.strerror or "an error of the disk", "a file that can be read") from None

    def _write(self, line: bytes) -> None:
        """In one piece, so that another program sees whole lines."""
        try:
            file = os.open(self.path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
            try:
                if os.write(file, line) != len(line):
                    raise self._bad("a disk that took half of a line", "room on the disk")
                os.fsync(file)
            finally:
                os.close(file)
        except OSError as error:
            raise self._bad(error.strerror or "an error of the disk", "a file that can be written") from None

    def _bad(self, found: str, allowed: str) -> BadInput:
        return BadInput(f"Cannot write the log {self.path.name}", found, allowed, "Choose another name or place.")


def hours_clock(log: SoakLog, seconds: Callable[[], float]) -> Callable[[], float]:
    """
    A clock that tells hours from the log's first entry, and does not jump when the machine's time is set.

    Args:
        log: Perhaps with earlier lines.
        seconds: That only ever grow, such as `time.monotonic`. [s]
    """
    already = (datetime.now(UTC) - log.began).total_seconds() / 3600 if log.began is not None else 0.0
    start = seconds()
    return lambda: already + (seconds() - start) / 3600


def _line(cells: Sequence[str]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow(cells)
    return text.getvalue().encode("utf-8")
