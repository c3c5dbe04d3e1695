"""Work: what a block has to go by when it is asked what comes out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from kilter.circuit.board import Block
from kilter.simulate.activity.block_kinds import number
from kilter.simulate.activity.signal import HIGH, LOW, NAN, UNPOWERED, Floats, Mask, Signal, any_doubt

NEVER: Mask = np.zeros((1, 1), np.bool_)
CERTAIN: Floats = np.zeros((1, 1))


@dataclass(frozen=True, slots=True)
class Work:
    """
    Args:
        block: The block that is asked.
        inputs: Port name to what arrives there; a port that nobody wired is absent.
        suffers: Effect of a fault to where it is present, shape (H, 1).
        held: Number that a faulty member makes it give, NaN where none does, shape (H, 1).
        met: Where its needs are met, shape (H, S) or smaller.
        closed: For a switch: whether the state has it closed.
    """

    block: Block
    inputs: Mapping[str, Signal]
    suffers: Mapping[str, Mask] = field(default_factory=dict)
    held: Floats = field(default_factory=lambda: np.full((1, 1), NAN))
    met: Mask = field(default_factory=lambda: ~NEVER)
    closed: bool = True

    def number(self, name: str) -> float:
        """A parameter of the block."""
        return number(self.block, name)

    def has(self, effect: str) -> Mask:
        """Where a fault with that effect is present."""
        return self.suffers.get(effect, NEVER)

    def arriving(self, *leave_out: str) -> list[Signal]:
        """What arrives at all ports but some, in the order of the board file."""
        return [signal for port, signal in self.inputs.items() if port not in leave_out]

    def released(self) -> tuple[Mask, Floats]:
        """Where the reset port lets it work, and how much that is in doubt; a port that nobody wired always does."""
        reset = self.inputs.get("reset")
        if reset is None:
            return ~NEVER, CERTAIN
        low, high = np.isin(reset.level, (LOW, UNPOWERED)), np.asarray(reset.level == HIGH)
        free = low if self.number("asserted") else high
        return free, any_doubt(reset.doubt, np.where(low | high, 0.0, 1.0))


Act = Callable[[Work], Mapping[str, Signal]]
"""Says what comes out of every output port of a healthy block, or of one with a fault that only it can interpret."""


def everywhere(work: Work, signal: Signal) -> Mapping[str, Signal]:
    """The same signal at every output port."""
    return dict.fromkeys(work.block.outputs, signal)
