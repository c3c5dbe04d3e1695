"""Answers: from the signals of one state to what each test would read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from kilter.circuit.board import Block, Board
from kilter.measure.errors import BadInput
from kilter.parts.kinds import Mode
from kilter.records.part import Part
from kilter.records.test import Test
from kilter.simulate.activity import figures, warmth, words
from kilter.simulate.activity.block_kinds import block_kind, values_of
from kilter.simulate.activity.settling import Settling
from kilter.simulate.activity.signal import Floats, Signal, unknown
from kilter.simulate.activity.wires import Wires, signal_at
from kilter.simulate.circuit.faults import mode_of, present_faults
from kilter.simulate.prediction import Hypothesis

ON_PARTS = ("look", "heat", "temperature_rise")
"""Quantities read on a part rather than at a signal."""

UNDRIVEN = ("level", "activity", "frequency")
"""Quantities that may be asked of a signal which nobody drives; the answer is 'unknown'."""


def readable(board: Board, wires: Wires, point: str) -> tuple[str, ...]:
    """The quantities that can be read at a point; none where it shows no signal."""
    signal = signal_at(board, wires, point)
    if signal is None:
        return ()
    if signal not in wires.drivers:
        return UNDRIVEN
    found = [key for name, _ in wires.drivers[signal] for key in _reads(board, board.blocks[name])]
    return tuple(dict.fromkeys(found))


def _reads(board: Board, block: Block) -> tuple[str, ...]:
    """Where there is a circuit, voltages are its business."""
    kind = block_kind(block)
    if "value" in block.numbers and kind.act == "given":
        return ("value",)
    return tuple(key for key in kind.reads if key != "voltage" or not board.elements)


class Answers:
    """
    What each test would read in one state.

    Args:
        settling: The board and its state.
        signals: What came to rest.
        hypotheses: Sets of faults, H of them.
    """

    def __init__(self, settling: Settling, signals: Mapping[str, Signal], hypotheses: Sequence[Hypothesis]) -> None:
        self.settling, self.signals, self.hypotheses = settling, signals, hypotheses
        self.board, self.lanes = settling.board, len(hypotheses)
        self._known_modes: dict[str, list[Mode | None]] = {}

    def figures(self, test: Test) -> figures.Figures:
        """Mean, spread and unknown of a test read as a number."""
        if test.quantity == "temperature_rise":
            return warmth.temperature_rise(self._warming(test), self._idle(test))
        read = {"frequency": figures.frequency, "signal": figures.swing, "voltage": figures.voltage}
        return read[test.quantity](self._signal(test), self.lanes)

    def words(self, test: Test) -> words.Words:
        """Categories and chances of a test read as a word."""
        if test.quantity == "look":
            return words.look_words(self._part(test), self._modes(test))
        if test.quantity == "heat":
            return warmth.heat_words(self._warming(test), self._idle(test))
        signal = self._signal(test)
        if test.quantity == "value":
            return words.value_words(self._values(test), signal, self.lanes)
        return words.level_words(test.quantity, signal, self.lanes)

    def _signal(self, test: Test) -> Signal:
        signal = signal_at(self.board, self.settling.wires, test.point)
        if test.quantity in readable(self.board, self.settling.wires, test.point) and signal is not None:
            return self.signals.get(signal, unknown())
        raise _cannot(test, readable(self.board, self.settling.wires, test.point))

    def _values(self, test: Test) -> int:
        signal = signal_at(self.board, self.settling.wires, test.point)
        drivers = self.settling.wires.drivers[signal or ""]
        return max(values_of(self.board.blocks[name]) for name, _ in drivers)

    def _part(self, test: Test) -> Part:
        if test.point in self.board.parts:
            return self.board.parts[test.point]
        raise _cannot(test, ())

    def _modes(self, test: Test) -> list[Mode | None]:
        """What the part has in each hypothesis; of a part with two modes, the first by name."""
        ref = self._part(test).ref
        if ref not in self._known_modes:
            modes: list[Mode | None] = [None] * self.lanes
            for row, key in self._faulty.get(ref, {}).items():
                modes[row] = mode_of(self.board, ref, key)
            self._known_modes[ref] = modes
        return self._known_modes[ref]

    @cached_property
    def _faulty(self) -> dict[str, dict[int, str]]:
        """Of each part that is faulty in some hypothesis, the rows of those hypotheses with its first mode by name."""
        found: dict[str, dict[int, str]] = {}
        for row, hypothesis in enumerate(self.hypotheses):
            for ref, key in sorted(present_faults(self.settling.state, hypothesis)):
                found.setdefault(ref, {}).setdefault(row, key)
        return found

    def _warming(self, test: Test) -> list[Mode | None]:
        """The modes as far as they can heat: in an object that is off none does."""
        modes = self._modes(test)
        return modes if self.settling.state.powered else [None] * len(modes)

    def _idle(self, test: Test) -> Floats:
        """Chance that the part's rail is down, as far as the blocks whose chip it is can tell. Shape (H,)"""
        if not self.settling.state.powered:
            return np.ones(self.lanes)
        idle = np.zeros((1, 1))
        for block in self.board.blocks.values():
            if block.parts[:1] == (test.point,) and block.rails:
                stands = self.settling.stands(block, self.signals)
                down = np.where(stands.powered, 0.0, 1.0)
                idle = np.maximum(idle, down * (1.0 - stands.doubt) + stands.doubt / 2.0)
        return np.broadcast_to(idle.mean(1), (self.lanes,)).copy()


def _cannot(test: Test, allowed: Sequence[str]) -> BadInput:
    return BadInput(
        f"Cannot predict the {test.quantity} at {test.point}",
        f"nothing in the blocks that has a {test.quantity} there",
        ", ".join(allowed) or "parts, and signals that a block names",
        "Correct the point, or add a block to the board file.",
    )
