"""Sweeps remembered: a visit asks for the same hypotheses in the same state again and again."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.circuit.sweep import Sweep
from kilter.simulate.prediction import Hypothesis

Answer = tuple[Sweep, int]
"""A sweep and how many of its lanes another engine answered."""


@dataclass
class _Kept:
    """
    Rows of one state, one for each hypothesis met.

    Args:
        volts: The rows known, and room for more, shape (room, n + 1, S).
        settled: Shape (room, S).
    """

    rows: dict[Hypothesis, int] = field(default_factory=dict)
    volts: NDArray[np.float32] = field(default_factory=lambda: np.empty((0, 0, 0), np.float32))
    settled: NDArray[np.bool_] = field(default_factory=lambda: np.empty((0, 0), np.bool_))
    floating: list[frozenset[str]] = field(default_factory=list)
    elsewhere: int = 0

    def add(self, new: Sequence[Hypothesis], found: Sweep) -> None:
        """Puts new rows behind those that are known."""
        first, last = len(self.rows), len(self.rows) + len(new)
        if last > len(self.volts):
            room = max(last, 2 * len(self.volts))
            volts, settled = self.volts, self.settled
            self.volts = np.empty((room, *found.volts.shape[1:]), np.float32)
            self.settled = np.empty((room, *found.settled.shape[1:]), np.bool_)
            if first:
                self.volts[:first], self.settled[:first] = volts[:first], settled[:first]
        self.volts[first:last], self.settled[first:last] = found.volts, found.settled
        self.rows.update(zip(new, range(first, last), strict=True))
        self.floating += found.floating


class Swept:
    """
    Remembers sweeps by state and hypothesis.

    Args:
        solve: Sweeps hypotheses that have not been met.
    """

    def __init__(self, solve: Callable[[Sequence[Hypothesis]], Answer]) -> None:
        self._solve = solve
        self._kept = _Kept()

    def __call__(self, hypotheses: Sequence[Hypothesis]) -> Answer:
        """The rows of all hypotheses; the count is of all lanes that were ever answered elsewhere in this state."""
        kept = self._kept
        new = [one for one in dict.fromkeys(hypotheses) if one not in kept.rows]
        if new:
            found, elsewhere = self._solve(new)
            kept.add(new, found)
            kept.elsewhere += elsewhere
        rows = np.array([kept.rows[one] for one in hypotheses], dtype=np.intp)
        volts = kept.volts[rows].astype(np.float64)
        return Sweep(volts, kept.settled[rows], tuple(kept.floating[row] for row in rows), 0), kept.elsewhere


SweptByState = dict[Hashable, Swept]
