"""Samples of all lines at a steady rate, taken in piece by piece: only the changes are kept."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from kilter.measure.errors import BadInput
from kilter.signals.logic_lines import Levels, LogicCapture, LogicLine, Ticks

MOST_CHANGES = 80_000_000
"""Changes of one capture that are kept; each takes nine bytes."""


class SampledLines:
    """
    The lines of one capture.

    Args:
        names: Bit within a sample to the name of its line.
        bytes_each: Bytes of a sample, lowest lines first.
        file: For messages.
    """

    def __init__(self, names: Mapping[int, str], bytes_each: int, file: str) -> None:
        self.names, self.bytes_each, self.file = names, bytes_each, file
        self.times: dict[int, list[Ticks]] = {bit: [] for bit in names}
        self.levels: dict[int, list[Levels]] = {bit: [] for bit in names}
        self.last: dict[int, int] = {}
        self.count = self.changes = 0

    def add(self, raw: bytes) -> None:
        """
        Takes in whole samples that follow those before.

        Raises:
            BadInput: The lines change more often than can be kept.
        """
        if not raw:
            return
        samples = np.frombuffer(raw, np.uint8).reshape(-1, self.bytes_each)
        columns = {byte: np.ascontiguousarray(samples[:, byte]) for byte in {bit // 8 for bit in self.names}}
        moved = {byte: np.flatnonzero(column[1:] != column[:-1]) + 1 for byte, column in columns.items()}
        for bit in self.names:
            places = np.concatenate([[0], moved[bit // 8]])
            levels = (columns[bit // 8][places] >> np.uint8(bit % 8)) & np.uint8(1)
            before = np.concatenate([[self.last.get(bit, 2)], levels[:-1]])
            kept = levels != before
            self.times[bit].append(places[kept].astype(np.int64) + self.count)
            self.levels[bit].append(levels[kept])
            self.last[bit] = int(levels[-1])
            self.changes += int(kept.sum())
        self.count += len(samples)
        if self.changes > MOST_CHANGES:
            raise BadInput(f"Cannot read the logic capture {self.file}", f"more than {MOST_CHANGES} changes",
                           f"up to {MOST_CHANGES}", "Save a shorter stretch or fewer lines.")  # fmt: skip

    def capture(self, *, tick: float, warnings: tuple[str, ...] = ()) -> LogicCapture:
        """
        Everything taken in.

        Args:
            tick: Time between samples. [s]
            warnings: To go with it.

        Raises:
            BadInput: There was no sample.
        """
        if not self.count:
            raise BadInput(f"Cannot read the logic capture {self.file}", "no sample", "at least one", "Capture again.")
        lines = {}
        for bit in sorted(self.names):
            name = self.names[bit] if self.names[bit] not in lines else f"{self.names[bit]} ({bit})"
            lines[name] = LogicLine(name, np.concatenate(self.times[bit]), np.concatenate(self.levels[bit]))
        return LogicCapture(source=self.file, tick=tick, start=0, end=self.count, lines=lines, warnings=warnings,
                            stepped=True)  # fmt: skip
