"""
Boards settled before: what the blocks do in one state under each set of faults, kept from one reading to the next.

What a set of faults does to the blocks does not depend on the test that is asked about, so a visit that grows by a
reading settles only the sets that it has not met.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kilter.records.test import Test
from kilter.simulate.activity.answers import Answers
from kilter.simulate.activity.figures import Figures
from kilter.simulate.activity.words import Words
from kilter.simulate.prediction import Hypothesis

LANES_KEPT = 8192
"""Sets of faults kept for one state; it bounds memory, not what can be asked."""

Rows = NDArray[np.intp]


@dataclass
class _Batch:
    """Sets that were settled together, and what was asked of them."""

    told: Answers
    figures: dict[Test, Figures] = field(default_factory=dict)
    words: dict[Test, Words] = field(default_factory=dict)

    def figures_of(self, test: Test) -> Figures:
        if test not in self.figures:
            self.figures[test] = self.told.figures(test)
        return self.figures[test]

    def words_of(self, test: Test) -> Words:
        if test not in self.words:
            self.words[test] = self.told.words(test)
        return self.words[test]


@dataclass(frozen=True)
class Met:
    """Some sets of faults, each with its batch; the answers come in the order in which the sets were asked for."""

    lanes: int
    parts: tuple[tuple[_Batch, Rows, Rows], ...]

    def figures(self, test: Test) -> Figures:
        """Mean, spread and unknown of a test read as a number, each shape (H,)."""
        found = np.empty((3, self.lanes))
        for batch, rows, places in self.parts:
            for into, one in zip(found, batch.figures_of(test), strict=True):
                into[places] = one[rows]
        return found[0], found[1], found[2]

    def words(self, test: Test) -> Words:
        """Categories and chances of a test read as a word, shape (H, K)."""
        names, first = self.parts[0][0].words_of(test)
        found = np.empty((self.lanes, first.shape[1]))
        for batch, rows, places in self.parts:
            found[places] = batch.words_of(test)[1][rows]
        return names, found


class SettledBefore:
    """
    One board in one state.

    Args:
        settle: Settles sets of faults that have not been met.
    """

    def __init__(self, settle: Callable[[Sequence[Hypothesis]], Answers]) -> None:
        self._settle = settle
        self._batches: list[_Batch] = []
        self._place: dict[Hypothesis, tuple[int, int]] = {}

    def __call__(self, hypotheses: Sequence[Hypothesis]) -> Met:
        """These sets, settled."""
        new = [one for one in dict.fromkeys(hypotheses) if one not in self._place]
        if self._place and len(self._place) + len(new) > LANES_KEPT:
            self._batches.clear()
            self._place.clear()
            new = list(dict.fromkeys(hypotheses))
        if new or not self._batches:
            self._place.update((one, (len(self._batches), row)) for row, one in enumerate(new))
            self._batches.append(_Batch(self._settle(new)))
        places = np.array([self._place[one] for one in hypotheses], dtype=np.intp).reshape(-1, 2)
        used = np.unique(places[:, 0]) if len(places) else [0]
        parts = []
        for number in used:
            asked = np.flatnonzero(places[:, 0] == number)
            parts.append((self._batches[number], places[asked, 1], asked))
        return Met(len(hypotheses), tuple(parts))
