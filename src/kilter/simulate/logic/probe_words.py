"""From what nets showed, power-up by power-up, to the chances of each word of a logic probe."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.simulate.logic.running import Shown
from kilter.simulate.prediction import Floats

Marks = NDArray[np.bool_]


def level_words() -> tuple[str, ...]:
    """The words, in their order."""
    return quantity("level").categories


def usual(name: str) -> Floats:
    """One row of chances from the data."""
    row = table("logic/running")["word"][name]
    return np.array([row[word] for word in level_words()])


def chances(shown: Shown) -> Floats:
    """
    Chances of each word, shape (fault sets, nets, words).

    A net that moves in some power-ups moves for whoever waits; one that rests does so at each power-up's level.
    """
    words = level_words()
    table_of = np.concatenate([np.eye(len(words)), [usual(name) for name in MIXED]])
    rests = table_of[_look(shown, words)].mean(axis=2)
    moves = (shown.low & shown.high).mean(axis=2)
    least = float(table("logic/running")["word"]["moves_once"])
    sure = np.where(moves > 0, np.maximum(moves, least), 0.0)[..., None]
    place = words.index("pulsing")
    still = rests.copy()
    still[..., place] = np.maximum(still[..., place] - moves, 0.0)
    total = still.sum(axis=2, keepdims=True)
    still = np.divide(still, total, out=np.full_like(still, 1.0 / len(words)), where=total > 1e-9)
    mixed = np.where(sure > 0, sure * np.eye(len(words))[place] + (1.0 - sure) * still, rests)
    doubt = float(table("logic/running")["word"]["doubt"])
    return np.asarray((1.0 - doubt) * mixed + doubt / len(words))


MIXED = ("low_or_released", "high_or_released", "fighting", "unknown")


def _look(shown: Shown, words: tuple[str, ...]) -> NDArray[np.intp]:
    """Row of the table for each power-up, shape (fault sets, nets, power-ups)."""
    low_only, high_only, fighting, unknown = (len(words) + number for number in range(4))
    found = np.full(shown.low.shape, unknown)
    found[shown.released & ~shown.low & ~shown.high] = words.index("floating")
    found[shown.low & ~shown.high] = words.index("low")
    found[shown.high & ~shown.low] = words.index("high")
    found[shown.low & ~shown.high & shown.released] = low_only
    found[shown.high & ~shown.low & shown.released] = high_only
    found[shown.unknown] = unknown
    found[shown.fighting] = fighting
    found[shown.low & shown.high] = words.index("pulsing")
    return found
