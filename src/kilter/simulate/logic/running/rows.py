"""What a run writes: planes of nets, drives and registers, what is due, and what was seen."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.logic.running.tables import Tables, Words

NOTES = 5
"""Things noted of a watched net: seen low, seen high, seen let go, seen unknown, seen fighting."""


class Rows(NamedTuple):
    """Everything the kernel writes; rows of words, one for each net, drive or register, and flags."""

    high: Words
    low: Words
    raw_high: Words
    raw_low: Words
    drive_high: Words
    drive_low: Words
    before_high: Words
    before_low: Words
    gate_due: NDArray[np.bool_]
    register_due: NDArray[np.bool_]
    net_due: NDArray[np.bool_]
    seen: Words


def rows_at_rest(tables: Tables, n_words: int, n_watched: int) -> Rows:
    """Rows before the first step: nets unknown, everything due, no clock seen low."""
    n_nets, n_gates, n_registers = len(tables.pull), len(tables.kind), len(tables.register_latch)
    n_drives = n_gates + 2 * n_registers + len(tables.input_net)

    def filled(*shape: int) -> Words:
        return np.full((*shape, n_words), ~np.uint64(0))

    before_low = filled(n_registers, 2)
    before_low[:, 1] = 0
    return Rows(
        filled(n_nets), filled(n_nets), filled(n_nets), filled(n_nets), filled(n_drives), filled(n_drives),
        filled(n_registers, 2), before_low,
        np.ones(n_gates, np.bool_), np.ones(n_registers, np.bool_), np.ones(n_nets, np.bool_),
        np.zeros((NOTES, n_watched, n_words), np.uint64),
    )  # fmt: skip
