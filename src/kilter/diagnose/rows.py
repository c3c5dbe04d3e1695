"""Predictions by rows: pick some hypotheses, join batches, remember what was predicted before."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kilter.simulate.prediction import Hypothesis, Prediction, join_scenes

Predict = Callable[[Sequence[Hypothesis]], Sequence[Prediction]]
"""All hypotheses in, one prediction for each state out, always in the same order."""


def take(prediction: Prediction, rows: NDArray[np.intp] | slice) -> Prediction:
    """The prediction of some of its hypotheses."""
    return replace(
        prediction,
        mean=prediction.mean[rows],
        spread=prediction.spread[rows],
        unknown=prediction.unknown[rows],
        draws=None if prediction.draws is None else prediction.draws[rows],
        words={t: (names, table[rows]) for t, (names, table) in prediction.words.items()},
        scenes=None if prediction.scenes is None else prediction.scenes.some(rows),
    )


def join(batches: Sequence[Prediction]) -> Prediction:
    """One prediction out of several batches of hypotheses for the same tests."""
    if len(batches) == 1:
        return batches[0]
    first = batches[0]
    draws = [one.draws for one in batches if one.draws is not None]
    scenes = [one.scenes for one in batches if one.scenes is not None]
    return Prediction(
        tests=first.tests,
        mean=np.concatenate([one.mean for one in batches]),
        spread=np.concatenate([one.spread for one in batches]),
        unknown=np.concatenate([one.unknown for one in batches]),
        draws=np.concatenate(draws) if len(draws) == len(batches) else None,
        words={t: (names, np.concatenate([b.words[t][1] for b in batches])) for t, (names, _) in first.words.items()},
        scenes=join_scenes(scenes) if len(scenes) == len(batches) else None,
        fallback_lanes=sum(one.fallback_lanes for one in batches),
        unsettled=sum(one.unsettled for one in batches),
    )


class Remembered:
    """
    A `Predict` that asks each state only for hypotheses it has not seen.

    A visit adds readings one at a time; the predictions of a state do not change when a reading in it arrives, so the
    same object is kept through a visit and states are added as they come.

    Args:
        predict_state: Answers for one state, named by a key of the caller's choice. It must always answer the same
            tests for the same key.
        states: The keys, in the order in which predictions are returned.
    """

    def __init__(
        self, predict_state: Callable[[Hashable, Sequence[Hypothesis]], Prediction], states: Sequence[Hashable]
    ) -> None:
        self.predict_state = predict_state
        self.states = list(states)
        self._rows: dict[Hashable, dict[Hypothesis, int]] = {}
        self._batches: dict[Hashable, list[Prediction]] = {}

    def __call__(self, hypotheses: Sequence[Hypothesis]) -> list[Prediction]:
        """One prediction for each state."""
        return [self._state(key, hypotheses) for key in self.states]

    def _state(self, key: Hashable, hypotheses: Sequence[Hypothesis]) -> Prediction:
        rows = self._rows.setdefault(key, {})
        new = [one for one in dict.fromkeys(hypotheses) if one not in rows]
        if new:
            self._batches.setdefault(key, []).append(self.predict_state(key, new))
            rows.update(zip(new, range(len(rows), len(rows) + len(new)), strict=True))
        return self._gather(key, np.array([rows[one] for one in hypotheses], dtype=np.intp))

    def _gather(self, key: Hashable, wanted: NDArray[np.intp]) -> Prediction:
        batches = self._batches[key]
        starts = np.cumsum([0] + [len(one.mean) for one in batches])
        batch = np.searchsorted(starts, wanted, side="right") - 1
        used = np.unique(batch)
        parts = [take(batches[b], wanted[batch == b] - starts[b]) for b in used]
        order = np.argsort(np.concatenate([np.flatnonzero(batch == b) for b in used]))
        joined = join(parts)
        return joined if len(used) == 1 else take(joined, order)
