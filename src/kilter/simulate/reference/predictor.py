"""The reference predictor: readings of known-good boards, and from the nets how far a fault reaches."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kilter.circuit.board import Board, State
from kilter.measure.tables import table
from kilter.parts.kinds import Mode, modes_of
from kilter.records.test import Test
from kilter.simulate.chain import Chain
from kilter.simulate.circuit.faults import present_faults
from kilter.simulate.prediction import Fault, Floats, Hypothesis, Prediction
from kilter.simulate.reference.figures import number
from kilter.simulate.reference.known_good import Key, KnownGood
from kilter.simulate.reference.reach import Reach
from kilter.simulate.reference.spread import NextBoard

HEAT = "temperature_rise"


class ReferencePredictor:
    """
    Predicts what known-good boards of the type were read for, and nothing else.

    Args:
        known: Their readings.
        only: Quantities that it answers; none named means all.
    """

    def __init__(self, known: KnownGood, only: Sequence[str] = ()) -> None:
        self.known, self.only = known, tuple(only)
        self._reach: dict[int, tuple[Board, Reach]] = {}

    def answers(self, board: Board, test: Test) -> bool:
        """Whether a known-good board was read so."""
        return (not self.only or test.quantity in self.only) and self._key(board, test) in self.known

    def predict(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], tests: Sequence[Test]
    ) -> Prediction:
        """The readings of all tests in one state under each hypothesis."""
        shape = (len(hypotheses), len(tests))
        mean, spread, unknown = np.full(shape, np.nan), np.zeros(shape), np.zeros(shape)
        words: dict[int, tuple[tuple[str, ...], Floats]] = {}
        faults = [self._faults(board, state, one) for one in hypotheses]
        for column, test in enumerate(tests):
            key = self._key(board, test)
            unknown[:, column] = [self._changed(board, one, test) for one in faults]
            if key in self.known.words:
                chances = self.known.words[key].chances
                row = np.array(list(chances.values()))
                words[column] = (tuple(chances), np.tile(row, (len(hypotheses), 1)))
            else:
                healthy = self.known.numbers[key]
                mean[:, column], spread[:, column] = healthy.mean, healthy.spread
                if test.quantity == HEAT:
                    self._warm(board, test.point, faults, healthy, mean[:, column], spread[:, column])
        return Prediction(tuple(tests), mean, spread, unknown, words=words)

    def _key(self, board: Board, test: Test) -> Key:
        """Where it was read on the known-good boards: in the board's own state, before anything was done."""
        known = [name for name in board.states if test.state == name or test.state.startswith(f"{name}, ")]
        plain = min(known, key=len, default=test.state)
        return (test.point, test.quantity, plain)

    def _faults(self, board: Board, state: State, hypothesis: Hypothesis) -> tuple[Fault, ...]:
        """Faults that are there, and parts that were taken out or lifted since, which act like faults of theirs."""
        plain = board.states.get(state.name.split(", ")[0], state)
        moved = {one.split(".")[0] for one in (state.unplugged - plain.unplugged) | (state.lifted - plain.lifted)}
        there = tuple(fault for fault in present_faults(state, hypothesis) if fault[0] not in moved)
        return there + tuple((ref, "") for ref in sorted(moved))

    def _changed(self, board: Board, faults: Sequence[Fault], test: Test) -> float:
        """Chance that at least one of the faults changes the reading; each acts by itself."""
        still = 1.0
        for fault in faults:
            still *= 1.0 - self._one(board, fault, test)
        return 1.0 - still

    def _one(self, board: Board, fault: Fault, test: Test) -> float:
        if test.quantity == HEAT and test.point == fault[0]:
            mode = _mode(board, fault)
            return 0.0 if mode is not None and mode.heat else number("own_temperature")
        found = self._reach_of(board).chance(fault[0], test.point)
        return min(found, number("next_net")) if test.quantity == HEAT else found

    def _warm(
        self,
        board: Board,
        part: str,
        faults: Sequence[Sequence[Fault]],
        healthy: NextBoard,
        mean: Floats,
        spread: Floats,
    ) -> None:
        """Own faults that run hot or cold move the temperature of a part."""
        rows = table("block_kinds")["rise"]
        for lane, those in enumerate(faults):
            heats = [mode.heat for fault in those if fault[0] == part and (mode := _mode(board, fault)) is not None]
            if "hot" in heats:
                mean[lane] = healthy.mean + rows["hot"]["mean"] - rows["usual"]["mean"]
                spread[lane] = np.hypot(healthy.spread, rows["hot"]["spread"])
            elif "cold" in heats:
                mean[lane] = min(rows["cold"]["mean"], healthy.mean)
                spread[lane] = np.hypot(rows["cold"]["spread"], 0.5 * healthy.spread)

    def _reach_of(self, board: Board) -> Reach:
        """Remembered; the board is kept so that its identity stays its own."""
        key = id(board.points)
        if key not in self._reach:
            self._reach[key] = (board, Reach(board))
        return self._reach[key][1]


def with_reference(chain: Chain, known: KnownGood) -> Chain:
    """
    A chain that asks known-good boards for what nobody before answers.

    Temperatures go to them first: any part may run at some 8 K above the room, but this one was seen to run at 24.
    """
    return Chain([ReferencePredictor(known, (HEAT,)), *chain.predictors, ReferencePredictor(known)])


def _mode(board: Board, fault: Fault) -> Mode | None:
    return next((mode for mode in modes_of(board.parts[fault[0]]) if mode.key == fault[1]), None)
