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
    """Rows of one state, one for each hypothesis met."""

    rows: dict[Hypothesis, int] = field(default_factory=dict)
    volts: list[NDArray[np.float64]] = field(default_factory=list)
    settled: list[NDArray[np.bool_]] = field(default_factory=list)
    floating: list[frozenset[str]] = field(default_factory=list)
    elsewhere: int = 0


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
            kept.rows.update(zip(new, range(len(kept.rows), len(kept.rows) + len(new)), strict=True))
            kept.volts += list(found.volts.astype(np.float32, copy=False))
            kept.settled += list(found.settled)
            kept.floating += found.floating
            kept.elsewhere += elsewhere
        rows = [kept.rows[one] for one in hypotheses]
        volts = np.array([kept.volts[row] for row in rows], dtype=np.float64)
        settled = np.array([kept.settled[row] for row in rows])
        return Sweep(volts, settled, tuple(kept.floating[row] for row in rows), 0), kept.elsewhere


SweptByState = dict[Hashable, Swept]
