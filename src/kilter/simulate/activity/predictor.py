"""The activity predictor: what the blocks of a board do, with or without a circuit behind them."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import fields

import numpy as np

from kilter.circuit.board import Board, State
from kilter.measure.quantities import quantity
from kilter.records.test import Test
from kilter.simulate.activity.answers import ON_PARTS, Answers, readable
from kilter.simulate.activity.pairs import NetPair, wanted_pairs
from kilter.simulate.activity.power import Circuit
from kilter.simulate.activity.settled_before import SettledBefore
from kilter.simulate.activity.settling import Settling
from kilter.simulate.activity.signal import Floats
from kilter.simulate.activity.suffering import suffering
from kilter.simulate.activity.wires import Wires, wires_of
from kilter.simulate.activity.words import Words
from kilter.simulate.prediction import Hypothesis, Prediction

RAIL_SAMPLES = 4
"""Tolerance samples, the nominal board first, in which rails and needs are looked at: blocks see good or bad only."""


class ActivityPredictor:
    """
    Predicts frequencies, levels, values, pictures, sounds, and what parts look and feel like.

    For a word the chances already hold all doubt, so its 'unknown' is 0. Draws are not given: the frequencies of a
    board share the tolerance of its oscillator only, which 'spread' carries.

    Args:
        circuit: Tells the voltages of rails and needs; None where the board has no circuit.
    """

    def __init__(self, circuit: Circuit | None = None) -> None:
        self.circuit = circuit
        self._wires: dict[tuple[int, int], tuple[Board, Wires]] = {}
        self._settled: dict[Hashable, tuple[Board, SettledBefore]] = {}

    def answers(self, board: Board, test: Test) -> bool:
        """Whether the test reads a part, or a signal in a way that makes sense there."""
        if test.quantity in ON_PARTS:
            return test.point in board.parts
        return test.quantity in readable(board, self._wires_of(board), test.point)

    def predict(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], tests: Sequence[Test]
    ) -> Prediction:
        """
        The readings of all tests in one state under each hypothesis.

        Raises:
            BadInput: A test that it cannot answer, a fault that there is not, or a block that cannot be worked out.
        """
        told = self._settled_of(board, state)(hypotheses)
        shape = (len(hypotheses), len(tests))
        mean, spread, doubt = np.full(shape, np.nan), np.zeros(shape), np.zeros(shape)
        as_words: dict[int, Words] = {}
        for column, test in enumerate(tests):
            if quantity(test.quantity).numeric:
                mean[:, column], spread[:, column], doubt[:, column] = told.figures(test)
            else:
                as_words[column] = told.words(test)
        return Prediction(tuple(tests), mean, spread, doubt, words=as_words)

    def _settled_of(self, board: Board, state: State) -> SettledBefore:
        """What was settled of a board as it stands in a state; the board is kept so that its identity stays its own."""
        of_board = (id(board.blocks), id(board.rails), id(board.elements), id(board.parts), tuple(board.points))
        key = (of_board, _as_it_stands(state))
        if key not in self._settled:

            def settle(hypotheses: Sequence[Hypothesis]) -> Answers:
                volts = self._volts(board, state, hypotheses)
                suffers = suffering(board, state, hypotheses, circuit=self.circuit is not None)
                settling = Settling(board, state, self._wires_of(board), suffers, volts)
                return Answers(settling, settling.signals(), hypotheses)

            self._settled[key] = (board, SettledBefore(settle))
        return self._settled[key][1]

    def _wires_of(self, board: Board) -> Wires:
        """The wires of a board, remembered; the board is kept so that its identity stays its own."""
        key = (id(board.blocks), id(board.rails))
        if key not in self._wires:
            self._wires[key] = (board, wires_of(board))
        return self._wires[key][1]

    def _volts(self, board: Board, state: State, hypotheses: Sequence[Hypothesis]) -> Mapping[NetPair, Floats]:
        pairs = wanted_pairs(board)
        if self.circuit is None or not pairs or not state.powered:
            return {}
        draws = self.circuit(board, state, hypotheses, pairs)[:, :RAIL_SAMPLES]
        return {pair: draws[:, :, number] for number, pair in enumerate(pairs)}


def _as_it_stands(state: State) -> Hashable:
    """Everything that a state says."""
    told = (getattr(state, one.name) for one in fields(state))
    return tuple(tuple(sorted(one.items())) if isinstance(one, Mapping) else one for one in told)
