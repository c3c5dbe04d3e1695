"""Readings of known-good boards, gathered by place, quantity and state."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import fmean

import numpy as np

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.measure.scales import scaled_uncertainty, to_scale
from kilter.records.reading import Reading
from kilter.simulate.reference.figures import number, supposed_spread
from kilter.simulate.reference.spread import NextBoard, next_board

Key = tuple[str, str, str]
"""Place, quantity, state."""


@dataclass(frozen=True)
class Words:
    """Chance of each word on one more healthy board, how many were read, and the words that they gave."""

    chances: Mapping[str, float]
    boards: int
    said: frozenset[str]


@dataclass(frozen=True)
class KnownGood:
    """
    What healthy boards of one type read.

    Args:
        numbers: What one more healthy board would read, for readings that are numbers. [scaled]
        words: The same for words.
        values: Reading of each board behind `numbers`. [scaled]
    """

    numbers: Mapping[Key, NextBoard] = field(default_factory=dict)
    words: Mapping[Key, Words] = field(default_factory=dict)
    values: Mapping[Key, tuple[float, ...]] = field(default_factory=dict)

    def __contains__(self, key: Key) -> bool:
        """Whether any known-good board was read so."""
        return key in self.numbers or key in self.words


def known_good(boards: Sequence[Iterable[Reading]]) -> KnownGood:
    """
    Gathers the readings of one or more known-good boards.

    Several readings of one board at one place count as one board: they tell of the meter, not of other boards.

    Args:
        boards: The readings of each board; those marked as doubtful and lines 'done' are refused.

    Raises:
        BadInput: No reading at all, or one that tells of a board that was not left as it was.
    """
    by_key: dict[Key, list[list[Reading]]] = {}
    for readings in boards:
        own: dict[Key, list[Reading]] = {}
        for reading in readings:
            _check(reading)
            own.setdefault((reading.point, reading.quantity, reading.state), []).append(reading)
        for key, same in own.items():
            by_key.setdefault(key, []).append(same)
    if not by_key:
        raise BadInput("Cannot use known-good boards", "no reading of any", "one reading of one board or more",
                       "Name a readings file of a known-good board.")  # fmt: skip
    numeric = {key: rows for key, rows in by_key.items() if quantity(key[1]).numeric}
    return KnownGood(
        {key: _next(key[1], rows) for key, rows in numeric.items()},
        {key: _words(key[1], rows) for key, rows in by_key.items() if key not in numeric},
        {key: tuple(_mean(key[1], same) for same in rows) for key, rows in numeric.items()},
    )


def _check(reading: Reading) -> None:
    if reading.quantity == "done" or reading.doubtful:
        what = "a deed done to it" if reading.quantity == "done" else f"a doubtful {reading.quantity}"
        raise BadInput("Cannot use known-good boards", f"{what} at {reading.point} {reading.place}".rstrip(),
                       "readings of boards that work, as they stand, each of which somebody would stand by",
                       "Leave the line out of the known-good file.")  # fmt: skip


def _mean(key: str, same: Sequence[Reading]) -> float:
    return fmean(float(to_scale(key, np.array(one.value))) for one in same)


def _next(key: str, rows: Sequence[Sequence[Reading]]) -> NextBoard:
    values = [_mean(key, same) for same in rows]
    meters = [
        float(scaled_uncertainty(key, one.value if one.value is not None else np.nan, one.uncertainty))
        for same in rows
        for one in same
    ]
    meter = float(np.sqrt(np.mean(np.square(meters))))
    return next_board(values, meter, supposed_spread(key, fmean(values)), number("boards"))


def _words(key: str, rows: Sequence[Sequence[Reading]]) -> Words:
    said = Counter(same[-1].word for same in rows)
    names = quantity(key).categories or tuple(said)
    weight = number("word_boards")
    below = len(rows) + weight
    return Words({name: (said[name] + weight / len(names)) / below for name in names}, len(rows), frozenset(said))
