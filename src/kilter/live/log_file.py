"""The log of live values: a CSV file to which every value is appended the moment it is read."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.services.read_live import Logged


class LogFile:
    """
    One log on disk, a column for each quantity; `kilter.importers.meter_log` reads it.

    Args:
        path: Made where it is not there; an existing one of the same quantities is continued, never changed.
        quantities: What is logged.

    Raises:
        BadInput: The file is something else, or cannot be written.
    """

    def __init__(self, path: Path, quantities: Sequence[str]) -> None:
        self.path, self.quantities = path, tuple(quantities)
        head = ",".join(["time", *(f"{key} ({quantity(key).unit})" for key in quantities), "note"]) + "\n"
        there = self._there(len(head.encode()))
        if there not in (b"", head.encode()):
            raise self._bad("a file that is no log of these quantities", "a new name, or such a log to be continued")
        if not there:
            self._append(head)

    def keep(self, entry: Logged) -> None:
        """
        Appends one entry and waits until it is on the disk.

        Raises:
            BadInput: It cannot be written.
        """
        value = "" if entry.value is None else "OL" if abs(entry.value) == float("inf") else repr(entry.value)
        note = entry.note.replace('"', "'").replace("\n", " ")
        cells = [value if key == entry.quantity else "" for key in self.quantities]
        self._append(",".join([entry.time, *cells, f'"{note}"' if note else ""]) + "\n")

    def _there(self, count: int) -> bytes:
        """The start of the file, nothing where there is none."""
        try:
            with self.path.open("rb") as file:
                return file.read(count)
        except FileNotFoundError:
            return b""
        except OSError as error:
            raise self._bad(error.strerror or "an error of the disk", "a file that can be read") from None

    def _append(self, text: str) -> None:
        try:
            with self.path.open("a", encoding="utf-8", newline="") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise self._bad(error.strerror or "an error of the disk", "a file that can be written") from None

    def _bad(self, found: str, allowed: str) -> BadInput:
        return BadInput(f"Cannot write the log {self.path.name}", found, allowed, "Choose another name or place.")
