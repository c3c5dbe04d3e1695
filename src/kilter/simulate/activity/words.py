"""From signals and faults to words: the chance of each category of a reading."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.parts.kinds import Mode, part_kind
from kilter.parts.signs import sign_chances
from kilter.records.part import Part
from kilter.simulate.activity.signal import LEVELS, Floats, Signal

Words = tuple[tuple[str, ...], Floats]
"""Categories, and their chances of shape (H, K)."""


def level_words(key: str, signal: Signal, lanes: int) -> Words:
    """Chances of the words of 'level', 'activity', 'picture', 'sound' or 'light' for a signal."""
    rows = chances_by_truth(key, LEVELS)
    return quantity(key).categories, _spread_out(rows[signal.level], signal.doubt, lanes)


def value_words(values: int, signal: Signal, lanes: int) -> Words:
    """Chances of the whole numbers 0 to values - 1; a number that is not known could be any."""
    chances = np.asarray(signal.value[..., None] == np.arange(values), np.float64)
    doubt = np.where(chances.any(-1), signal.doubt, 1.0)
    return tuple(map(str, range(values))), _spread_out(chances, doubt, lanes)


def look_words(part: Part, modes: Sequence[Mode | None]) -> Words:
    """Chances of what an eye sees on one part, shape (H, K)."""
    categories, kind = quantity("look").categories, part_kind(part.kind)
    signs = {key: sign_chances(kind, mode) for key, mode in {mode.key if mode else "": mode for mode in modes}.items()}
    rows = {key: [chances.get(word, 0.0) for word in categories] for key, chances in signs.items()}
    return categories, np.array([rows[mode.key if mode else ""] for mode in modes], np.float64)


def _spread_out(chances: Floats, doubt: Floats, lanes: int) -> Floats:
    """Doubt spreads evenly over all words; tolerance samples are averaged. Shape (H, K)."""
    mixed = chances * (1.0 - doubt[..., None]) + doubt[..., None] / chances.shape[-1]
    return np.broadcast_to(mixed.mean(1), (lanes, chances.shape[-1])).copy()


@cache
def chances_by_truth(key: str, truths: tuple[str, ...]) -> Floats:
    """Chance of each word (column) when the truth is as in the row, shape (truths, K)."""
    entry, categories = table("block_kinds")["words"][key], quantity(key).categories
    return np.array([[entry[truth].get(word, 0.0) for word in categories] for truth in truths], np.float64)
