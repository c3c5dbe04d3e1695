"""The chain of predictors: circuit first, its rails then feed the blocks; every test goes to the first that answers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kilter.circuit.board import Board, State
from kilter.measure.errors import BadInput
from kilter.records.test import Test
from kilter.simulate.activity.power import Circuit
from kilter.simulate.activity.predictor import ActivityPredictor
from kilter.simulate.circuit.fallback import Fallback
from kilter.simulate.circuit.predictor import CircuitPredictor
from kilter.simulate.prediction import Floats, Hypothesis, Prediction, Predictor, Scenes

SAMPLES = 14
"""Tolerance samples unless more are asked for: enough for a spread within a fifth."""


DIGITAL = ("chip", "logic", "counter", "memory", "rom", "processor")
"""Kinds of parts that may have logic."""


class Chain:
    """
    Several predictors as one.

    Args:
        predictors: In the order in which they are asked.
    """

    def __init__(self, predictors: Sequence[Predictor]) -> None:
        self.predictors = tuple(predictors)

    def answers(self, board: Board, test: Test) -> bool:
        """Whether any predictor can."""
        return any(predictor.answers(board, test) for predictor in self.predictors)

    def predict(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], tests: Sequence[Test]
    ) -> Prediction:
        """
        The readings of all tests in one state under each hypothesis.

        Raises:
            BadInput: A test that nobody answers, or what a predictor refuses.
        """
        owner = [self._owner(board, test) for test in tests]
        parts = []
        for place, predictor in enumerate(self.predictors):
            columns = [column for column, own in enumerate(owner) if own == place]
            if columns:
                asked = [tests[column] for column in columns]
                parts.append((columns, predictor.predict(board, state, hypotheses, asked)))
        return _merge(tests, len(hypotheses), parts)

    def _owner(self, board: Board, test: Test) -> int:
        for place, predictor in enumerate(self.predictors):
            if predictor.answers(board, test):
                return place
        raise BadInput(
            f"Cannot predict {test.quantity} at {test.point} in state '{test.state}'",
            "a test that neither the circuit nor the blocks of the board can answer",
            "quantities that fit the state and a point with a circuit or a block behind it",
            "Leave the reading out, or add to the board file what makes it predictable.",
        )


def usual_chain(board: Board, *, samples: int = SAMPLES, fallback: Fallback | None = None) -> Chain:
    """The circuit, logic and activity predictors of a board, the first feeding the others where there is a circuit."""
    if not board.elements:
        return Chain([*_logic(board, None), ActivityPredictor()])
    circuit = CircuitPredictor(samples=samples, fallback=fallback)
    return Chain([circuit, *_logic(board, circuit.volts), ActivityPredictor(circuit.volts)])


def _logic(board: Board, circuit: Circuit | None) -> list[Predictor]:
    """The logic predictor, loaded only for boards with chips whose pins are known by number."""
    if not any(pin.isdigit() for part in board.parts.values() if part.kind in DIGITAL for pin in part.pins):
        return []
    from kilter.simulate.logic.predictor import LogicPredictor

    return [LogicPredictor(circuit)]


def _merge(tests: Sequence[Test], lanes: int, parts: Sequence[tuple[list[int], Prediction]]) -> Prediction:
    """One prediction, its columns in the order of the tests."""
    shape = (lanes, len(tests))
    mean, spread, unknown = np.full(shape, np.nan), np.zeros(shape), np.zeros(shape)
    samples = max((one.draws.shape[1] for _, one in parts if one.draws is not None), default=0)
    draws = np.full((lanes, samples, len(tests)), np.nan) if samples else None
    words: dict[int, tuple[tuple[str, ...], Floats]] = {}
    for columns, one in parts:
        mean[:, columns], spread[:, columns], unknown[:, columns] = one.mean, one.spread, one.unknown
        words |= {columns[t]: table for t, table in one.words.items()}
        if draws is not None:
            draws[:, :, columns] = one.draws if one.draws is not None else _lone_draws(one, samples, columns)
    return Prediction(
        tuple(tests), mean, spread, unknown, draws, words, _scenes(parts),
        fallback_lanes=sum(one.fallback_lanes for _, one in parts),
        unsettled=sum(one.unsettled for _, one in parts),
    )  # fmt: skip


def _scenes(parts: Sequence[tuple[list[int], Prediction]]) -> Scenes | None:
    """Those of the one predictor that has some, under the columns of the whole."""
    for columns, one in parts:
        if one.scenes is not None:
            return Scenes(one.scenes.shares, {columns[t]: chances for t, chances in one.scenes.chances.items()})
    return None


def _lone_draws(one: Prediction, samples: int, columns: Sequence[int]) -> Floats:
    """Draws with the mean and spread of a prediction that has none, each test moving by itself, shape (H, S, T)."""
    steps = np.stack([np.random.default_rng(column).standard_normal(samples) for column in columns], axis=1)
    steps = (steps - steps.mean(axis=0)) / steps.std(axis=0, ddof=1) if samples > 1 else steps * 0.0
    return np.asarray(one.mean[:, None, :] + one.spread[:, None, :] * steps)
