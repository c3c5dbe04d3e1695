"""The logic predictor: what a logic probe shows at the nets of a board of chips, under every fault set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import GROUND, Board, State
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.records.test import Test
from kilter.simulate.activity.power import Circuit
from kilter.simulate.logic.live_board import LiveBoard, live_board
from kilter.simulate.logic.pictures import WELL, Picture, Pictures
from kilter.simulate.logic.probe_words import Codes, chances, code_of, codes, level_words
from kilter.simulate.logic.running import run
from kilter.simulate.prediction import Floats, Hypothesis, Prediction, Scenes

Standing = tuple[bool, frozenset[str], frozenset[str], frozenset[str]]
"""What of a state the logic feels: powered, unplugged, lifted, renewed."""


STEADY = 0.75
"""Share of power-ups in which a net moves that moves all the time."""


Looks = tuple[Floats, Codes]
"""Shares of the scenes of a fault set, adding up to one, shape (S,), and the codes of all nets, shape (S, nets)."""


@dataclass
class Known:
    """What was worked out for one board."""

    board: Board
    live: LiveBoard | None
    pictures: Pictures | None
    nets: tuple[str, ...] = ()
    rows: dict[tuple[Standing, Hypothesis], Looks] = field(default_factory=dict)
    late: Floats = field(default_factory=lambda: np.zeros(0))


class LogicPredictor:
    """
    Predicts levels at the nets of boards whose chips the catalogue knows. Every fault set is run once and remembered.

    A word's chances hold all doubt, so its 'unknown' is 0.

    Args:
        circuit: Tells the voltages of rails; None where the board has no circuit.
        engine: 'auto', 'plain' or 'compiled'.
    """

    def __init__(self, circuit: Circuit | None = None, *, engine: str = "auto") -> None:
        self.circuit, self.engine = circuit, engine
        self._boards: dict[int, Known] = {}

    def answers(self, board: Board, test: Test) -> bool:
        """Whether the test reads the level of a net that the logic knows."""
        return test.quantity == "level" and self._net(board, test.point) is not None

    def predict(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], tests: Sequence[Test]
    ) -> Prediction:
        """
        The words of all tests in one state under each hypothesis.

        Raises:
            BadInput: A test that it cannot answer, or a fault that there is not.
        """
        known = self._known(board)
        place = {net: column for column, net in enumerate(known.nets)}
        columns = []
        for test in tests:
            net = self._net(board, test.point)
            if net is None or test.quantity != "level":
                raise _cannot(test)
            columns.append(place[net])
        shares, seen = self._looks(known, board, state, hypotheses)
        told = chances(seen[:, :, columns], known.late[columns] if len(known.late) else np.zeros(len(columns)))
        scenes = Scenes(shares, {number: told[:, :, number] for number in range(len(columns))})
        words = {number: (level_words(), scenes.marginal(number)) for number in range(len(columns))}
        shape = (len(hypotheses), len(tests))
        blank = np.zeros(shape)
        return Prediction(tuple(tests), np.full(shape, np.nan), blank, blank, words=words, scenes=scenes)

    def _known(self, board: Board) -> Known:
        key = id(board.parts)
        if key not in self._boards:
            live = live_board(board)
            nets = tuple(sorted(live.known_nets)) if live else ()
            self._boards[key] = Known(board, live, Pictures(board, live) if live else None, nets)
        return self._boards[key]

    def _net(self, board: Board, point: str) -> str | None:
        """The net of the logic at a point or pin; None where the logic does not know it."""
        live = self._known(board).live
        if live is None:
            return None
        net = point
        if point in board.points:
            net = board.points[point].net if board.points[point].against == GROUND else ""
        elif "." in point:
            ref, _, pin = point.partition(".")
            net = board.parts[ref].pins.get(pin, "") if ref in board.parts else ""
        found = live.net(net)
        return found if found in live.known_nets else None

    def _looks(self, known: Known, board: Board, state: State, hypotheses: Sequence[Hypothesis]) -> Looks:
        """Shares of the scenes, shape (H, S), and the codes of all nets in them, shape (H, S, nets)."""
        standing = (state.powered, state.unplugged, state.lifted, state.renewed)
        new = [one for one in dict.fromkeys(hypotheses) if (standing, one) not in known.rows]
        for one, looks in zip(new, self._work_out(known, state, new) if new else (), strict=True):
            known.rows[standing, one] = looks
        told = self._supplied(known, board, state, hypotheses, [known.rows[standing, one] for one in hypotheses])
        most = max(len(shares) for shares, _ in told)
        shares, seen = np.zeros((len(told), most)), np.zeros((len(told), most, len(known.nets)), np.uint8)
        for row, (own, nets) in enumerate(told):
            shares[row, : len(own)], seen[row, : len(own)] = own, nets
        return shares, seen

    def _work_out(self, known: Known, state: State, hypotheses: Sequence[Hypothesis]) -> list[Looks]:
        assert known.pictures is not None
        dead = _all_alike(known, "unpowered")
        if not state.powered:
            return [dead] * len(hypotheses)
        owners: list[list[tuple[float, int]]] = []
        shown = [WELL[0]]
        for hypothesis in hypotheses:
            mine = []
            for one in known.pictures.of(state, hypothesis):
                if one.unpowered:
                    mine.append((one.share, -1))
                elif not one.defects and not one.unpulled:
                    mine.append((one.share, 0))
                else:
                    mine.append((one.share, len(shown)))
                    shown.append(one)
            owners.append(mine)
        seen = self._seen(known, shown)
        return [_mixture([(share, dead if row < 0 else seen[row]) for share, row in mine]) for mine in owners]

    def _seen(self, known: Known, pictures: Sequence[Picture]) -> list[Looks]:
        """The scenes of each picture, the first being the good board: one for each power-up, and a program run wild."""
        assert known.live is not None
        found = run(
            known.live.netlist, known.live.stimulus, [one.defects for one in pictures], nets=known.nets,
            counting=known.live.counting, engine=self.engine,
            unpulled={number: one.unpulled for number, one in enumerate(pictures) if one.unpulled},
        )  # fmt: skip
        moved, told = np.asarray(found.low & found.high), codes(found)
        numbers = table("logic/running")["word"]
        read = [number for number, net in enumerate(known.nets) if net in known.live.processor_data]
        moves = np.asarray(moved.any(axis=2))[:, read]
        wild = np.any(moves != moves[:1], axis=1)
        known.late = np.zeros(len(known.nets))
        both = found.low[0].any(axis=1) & found.high[0].any(axis=1)
        for nets, share in self._late(known, moved[0].mean(axis=1), both):
            known.late[nets] = float(numbers[share])
        even, anything = np.full(told.shape[1], 1.0 / told.shape[1]), _all_alike(known, "unknown")
        risk = float(numbers["runs_wild"])
        return [
            _mixture([(1.0 - risk, (even, one)), (risk, anything)]) if runs_wild else (even, one)
            for one, runs_wild in zip(told, wild, strict=True)
        ]

    def _late(self, known: Known, moves: Floats, both: NDArray[np.bool_]) -> list[tuple[list[int], str]]:
        """
        Nets whose word depends on how long one waits or on the program, and the key of their share of doubt.

        Behind slow counters and at rest; at rest but hanging on something that moves; at different levels, or moving,
        on some power-ups only although no counter is behind it.

        Args:
            moves: Share of power-ups in which each net moves on the good board.
            both: Whether it was seen low and high, be it on different power-ups.
        """
        assert known.live is not None
        of = dict(zip(known.nets, moves, strict=True))
        slow = known.live.slow([net for net, share in of.items() if share >= STEADY])
        at_rest = {net for net, share in of.items() if share == 0.0}
        hanging = known.live.hanging_on([net for net, share in of.items() if share > 0.0])
        sometimes = {net for net, seen in zip(known.nets, both, strict=True) if seen and of[net] < STEADY} - slow
        groups = ((slow & at_rest, "slow"), (hanging & at_rest - slow - sometimes, "rare"), (sometimes, "sometimes"))
        place = {net: number for number, net in enumerate(known.nets)}
        return [([place[net] for net in sorted(nets)], key) for nets, key in groups]

    def _supplied(
        self, known: Known, board: Board, state: State, hypotheses: Sequence[Hypothesis], told: list[Looks]
    ) -> list[Looks]:
        """Where the circuit says that a rail is down, nothing works; where it is low or not known, nobody can tell."""
        rails = [rail for rail in board.rails.values() if rail.nominal > 0]
        if self.circuit is None or not rails or not state.powered:
            return told
        volts = self.circuit(board, state, hypotheses, [(rail.net, GROUND) for rail in rails]).mean(axis=1)
        brown = float(table("block_kinds")["rail"]["brown"])
        down, doubtful = np.zeros(len(told), bool), np.zeros(len(told), bool)
        for number, rail in enumerate(rails):
            here = volts[:, number]
            down |= here < brown * rail.nominal
            doubtful |= ~((here >= rail.low) & (here <= rail.high))
        dead, anything = _all_alike(known, "unpowered"), _all_alike(known, "unknown")
        return [
            dead if is_down else anything if unsure else one
            for one, is_down, unsure in zip(told, down, doubtful, strict=True)
        ]


def _all_alike(known: Known, name: str) -> Looks:
    """One scene in which every net has the same code."""
    return np.ones(1), np.full((1, len(known.nets)), code_of(name), np.uint8)


def _mixture(parts: Sequence[tuple[float, Looks]]) -> Looks:
    """Several ways to look, each with its share."""
    return np.concatenate([share * own for share, (own, _) in parts]), np.concatenate([seen for _, (_, seen) in parts])


def _cannot(test: Test) -> BadInput:
    return BadInput(
        f"Cannot predict the {test.quantity} at {test.point}", "nothing in the logic of the board that tells it",
        "levels at nets between chips that the catalogue knows", "Correct the point, or the values of the chips.",
    )  # fmt: skip
