"""What a predictor says: the distribution of every test's reading under every hypothesis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import Board, State
from kilter.records.test import Test

Floats = NDArray[np.float64]

Fault = tuple[str, str]
"""(part reference, mode key)."""

Hypothesis = frozenset[Fault]
"""A set of faults that are all present; the empty set is 'nothing wrong'."""


@dataclass(frozen=True)
class Scenes:
    """
    Ways in which each hypothesis may look, for readings in words that move together.

    A stopped processor may hold a line low or high, and everything behind that line goes with it: within a scene the
    words are independent, over the scenes they are not.

    Args:
        shares: How likely each scene is, rows adding up to one, shape (H, S).
        chances: Column of the prediction to the chances of its words in each scene, shape (H, S, K).
    """

    shares: Floats
    chances: dict[int, Floats]

    def some(self, rows: NDArray[np.intp] | slice) -> Scenes:
        """Those of some hypotheses."""
        return Scenes(self.shares[rows], {t: one[rows] for t, one in self.chances.items()})

    def marginal(self, column: int) -> Floats:
        """Chances of each word whatever the scene, shape (H, K)."""
        return np.asarray(np.einsum("hs,hsk->hk", self.shares, self.chances[column]))


def join_scenes(batches: Sequence[Scenes]) -> Scenes:
    """Scenes of several batches of hypotheses for the same tests; shorter ones are filled with scenes of no share."""
    most = max(one.shares.shape[1] for one in batches)

    def filled(one: Floats) -> Floats:
        return np.pad(one, [(0, 0), (0, most - one.shape[1]), *[(0, 0)] * (one.ndim - 2)])

    return Scenes(
        np.concatenate([filled(one.shares) for one in batches]),
        {t: np.concatenate([filled(one.chances[t]) for one in batches]) for t in batches[0].chances},
    )


@dataclass(frozen=True)
class Prediction:
    """
    Predicted readings, on the scale of each quantity (see kilter.measure.scales).

    Args:
        tests: The tests answered, length T.
        mean: Expected reading, NaN for tests read as words. [scaled], shape (H, T)
        spread: Standard deviation over healthy tolerances, without the instrument's own. [scaled], shape (H, T)
        unknown: Chance that the reading could be anything in the quantity's range, shape (H, T).
        draws: Tolerance samples, one circuit per row, so that readings which move together are seen to; None
            where only mean and spread are known. [scaled], shape (H, S, T)
        words: For a test read as a word, its index to (categories, probabilities of shape (H, K)).
        scenes: How words of this state move together, for the columns it names; None where nothing is known of that.
        fallback_lanes: Lanes that the fast engine could not settle and another engine answered.
        unsettled: Lanes that no engine could settle; their tests carry unknown = 1.
    """

    tests: tuple[Test, ...]
    mean: Floats
    spread: Floats
    unknown: Floats
    draws: Floats | None = None
    words: dict[int, tuple[tuple[str, ...], Floats]] = field(default_factory=dict)
    scenes: Scenes | None = None
    fallback_lanes: int = 0
    unsettled: int = 0


class Predictor(Protocol):
    """One way to predict; each says which tests it can answer."""

    def answers(self, board: Board, test: Test) -> bool:
        """Whether this predictor can say what the test would read."""

    def predict(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], tests: Sequence[Test]
    ) -> Prediction:
        """The readings of all tests, every one of which it answers, in one state under each hypothesis."""
