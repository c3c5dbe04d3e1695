"""
From what nets showed, power-up by power-up, to what a logic probe says.

Each net in each power-up has a code, the row of a table of chances: a word by itself, one of the mixed rows of
data/logic/running.toml, or either of those where the net moves in another power-up, and so will for whoever waits.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.simulate.logic.running import Shown
from kilter.simulate.prediction import Floats

Codes = NDArray[np.uint8]

MIXED = ("low_or_released", "high_or_released", "fighting", "unknown")


def level_words() -> tuple[str, ...]:
    """The words, in their order."""
    return quantity("level").categories


def usual(name: str) -> Floats:
    """One row of chances from the data."""
    row = table("logic/running")["word"][name]
    return np.array([row[word] for word in level_words()])


def code_of(name: str) -> int:
    """The code of a mixed row, or of 'unpowered'."""
    rows = len(level_words()) + len(MIXED)
    return 2 * rows if name == "unpowered" else len(level_words()) + MIXED.index(name)


@cache
def code_table() -> Floats:
    """Chances of each word for every code, without doubt, shape (codes, words)."""
    words, numbers = level_words(), table("logic/running")["word"]
    still = np.concatenate([np.eye(len(words)), [usual(name) for name in MIXED]])
    pulsing, least = words.index("pulsing"), float(numbers["moves_once"])
    resting = still.copy()
    resting[pulsing] = usual("unknown")
    resting[:, pulsing] = 0.0
    resting /= resting.sum(axis=1, keepdims=True)
    moving = (1.0 - least) * resting
    moving[:, pulsing] += least
    return np.concatenate([still, moving, [usual("unpowered")]])


def codes(shown: Shown) -> Codes:
    """The code of each net in each power-up, shape (fault sets, power-ups, nets)."""
    words = level_words()
    found = np.full(shown.low.shape, code_of("unknown"), np.uint8)
    found[shown.released & ~shown.low & ~shown.high] = words.index("floating")
    found[shown.low & ~shown.high] = words.index("low")
    found[shown.high & ~shown.low] = words.index("high")
    found[shown.low & ~shown.high & shown.released] = code_of("low_or_released")
    found[shown.high & ~shown.low & shown.released] = code_of("high_or_released")
    found[shown.unknown] = code_of("unknown")
    found[shown.fighting] = code_of("fighting")
    moves = np.asarray(shown.low & shown.high)
    found[moves] = words.index("pulsing")
    at_times = moves.any(axis=2, keepdims=True) & ~moves.all(axis=2, keepdims=True)
    found[np.broadcast_to(at_times, found.shape)] += len(words) + len(MIXED)
    return np.ascontiguousarray(found.transpose(0, 2, 1))


def chances(seen: Codes, late: Floats) -> Floats:
    """
    Chances of each word.

    Args:
        seen: Codes, shape (..., nets).
        late: Share of each net that could be anything, as one cannot wait for it, shape (nets,).

    Returns:
        Shape (..., nets, words), a little doubt included.
    """
    rows = code_table()[seen]
    mixed = (1.0 - late[:, None]) * rows + late[:, None] * usual("unknown")
    doubt = float(table("logic/running")["word"]["doubt"])
    return np.asarray((1.0 - doubt) * mixed + doubt / len(level_words()))
